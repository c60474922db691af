package app_test

import (
	"errors"
	"log/slog"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
)

// TestALeaseIsAskedAndWaitedFor: where the settings name a lease nothing goes out
// without it, and no letter before a replica can have it.
func TestALeaseIsAskedAndWaitedFor(t *testing.T) {
	p := newPost(t, "[lease]\nobject = \"https://objects.example.com/b/lease\"\nkeys_file = \"keys\"\n")
	r := serveRelay(t)
	p.Config.Mail.Server, p.Config.Mail.Security = r.address, "none"
	if _, err := p.NewSender(); !errors.Is(err, app.ErrLease) {
		t.Fatalf("a process without a lease may send: %v", err)
	}
	has := false
	p.MaySend = func() bool { return has }
	sender, err := p.NewSender()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		after time.Duration
		has   bool
		sends bool
	}{{time.Minute, false, false}, {9 * time.Second, true, false}, {10 * time.Second, true, true}} {
		has = c.has
		if err := p.Send(t.Context(), func() time.Time { return p.now.Add(c.after) }, sender, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		counts, err := outbox.MessageCounts(t.Context(), p.DB)
		if sent := counts[schedule.MessageSent] > 0; err != nil || sent != c.sends {
			t.Errorf("after %v, lease %v: %v, %v; want sent %v", c.after, c.has, counts, err, c.sends)
		}
	}
}
