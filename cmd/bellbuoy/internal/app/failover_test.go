package app_test

import (
	"log/slog"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/lease"
	"bellbuoy/schedule"
	"bellbuoy/store/archive"
	"bellbuoy/store/outbox"
)

// sharedLease is an object that two machines take turns at, by the test's clock.
type sharedLease struct {
	seen  lease.Seen
	count int
}

// turn is what a machine does every ten seconds.
func (o *sharedLease) turn(c *lease.Claim, now time.Time) {
	c.Saw(o.seen, now)
	if tag, write := c.Over(now); write && tag == o.seen.Tag {
		o.count++
		o.seen = lease.Seen{Tag: string(rune('a' + o.count)), Holder: c.Me}
		c.Wrote(o.seen.Tag, now, now)
	}
}

// TestAMachineTakesOver is the drill of testdata/failover in one process: letters that
// went out after the last moment that the replica knows are not sent again by the heir,
// and the machine that it replaced sends none when it wakes up.
func TestAMachineTakesOver(t *testing.T) {
	a := newPost(t, "[lease]\nobject = \"https://objects.example.com/b/lease\"\nkeys_file = \"keys\"\n")
	r := serveRelay(t)
	var object sharedLease
	now := a.now
	clock := func() time.Time { return now }
	send := func(h *app.App, c *lease.Claim) (took []string) {
		t.Helper()
		h.Config.Mail.Server, h.Config.Mail.Security = r.address, "none"
		h.MaySend = func() bool { return c.MaySend(now) }
		sender, err := h.NewSender()
		if err != nil {
			t.Fatal(err)
		}
		if err := h.Send(t.Context(), clock, sender, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		_, took = r.heard()
		return took
	}
	claimA, claimB := &lease.Claim{Me: "A"}, &lease.Claim{Me: "B"}
	for range 6 {
		object.turn(claimA, now)
		now = now.Add(10 * time.Second)
	}
	replica := filepath.Join(t.TempDir(), "replica.db")
	if err := archive.Backup(t.Context(), a.DB, replica); err != nil {
		t.Fatal(err)
	}
	byA := send(a.App, claimA) // and the replica knows nothing of it
	if len(byA) < 4 {
		t.Fatalf("A sent %d letters", len(byA))
	}

	// A is stopped. B puts the replica in place and waits for the lease.
	heir := *a.Config
	heir.Files.Database = filepath.Join(t.TempDir(), "bellbuoy.db")
	if _, err := archive.TakeOver(t.Context(), now, "test", replica, heir.Files.Database); err != nil {
		t.Fatal(err)
	}
	b, err := app.Open(t.Context(), &heir)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	var byB []string
	for range 9 {
		object.turn(claimB, now)
		if _, err := b.Remind(t.Context(), now); err != nil {
			t.Fatal(err)
		}
		if took := send(b, claimB); len(took) > 0 {
			t.Fatalf("B sent %q before it might", took)
		}
		now = now.Add(10 * time.Second)
		if claimB.MaySend(now) {
			break
		}
	}
	if !claimB.MaySend(now) {
		t.Fatal("B may not send after 90 seconds")
	}
	byB = send(b, claimB)
	for _, to := range byB {
		if slices.Contains(byA, to) {
			t.Errorf("B sent a letter to %s, who has one of A", to)
		}
	}
	counts, err := outbox.MessageCounts(t.Context(), b.DB)
	if err != nil || counts[schedule.MessageUncertain] != len(byA) {
		t.Errorf("B has %v, %v; want %d uncertain", counts, err, len(byA))
	}

	// A wakes up with letters due, before and after it has seen whose the lease is.
	if _, err := a.Remind(t.Context(), now.Add(8*24*time.Hour)); err != nil {
		t.Fatal(err)
	}
	now = now.Add(8*24*time.Hour + time.Minute)
	object.turn(claimB, now)
	if took := send(a.App, claimA); len(took) > 0 {
		t.Errorf("A woke up and sent %q", took)
	}
	object.turn(claimA, now)
	if took := send(a.App, claimA); len(took) > 0 {
		t.Errorf("A sent %q while B has the lease", took)
	}
}
