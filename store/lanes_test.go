package store_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// childPost sends the letters of an outbox in several lanes and says of each what
// is written down, after it is.
func childPost(ctx context.Context, args []string) error {
	db, err := store.Open(ctx, args[0])
	if err != nil {
		return err
	}
	defer db.Close()
	said, err := os.OpenFile(args[1], os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	defer said.Close()
	lanes := make(chan error)
	for range 6 {
		go func() {
			for {
				l, err := outbox.NewQueue(db).Claim(ctx, noon, lease)
				if err == nil {
					err = outbox.NewQueue(db).MarkDot(ctx, l.ID, l.LeaseToken, noon)
				}
				if err == nil {
					_, err = fmt.Fprintf(said, "marked %d\n", l.ID)
				}
				if err == nil {
					err = outbox.NewQueue(db).RecordOutcome(ctx, l.ID, l.LeaseToken, schedule.Outcome{State: schedule.MessageSent, Code: 250, Suppress: true}, noon)
				}
				if err == nil {
					_, err = fmt.Fprintf(said, "settled %d\n", l.ID)
				}
				if err != nil {
					lanes <- err
					return
				}
			}
		}()
	}
	for range 6 {
		if err := <-lanes; !errors.Is(err, store.ErrNone) {
			return err
		}
	}
	return nil
}

// TestPostKilledAtAnyMoment kills a process that writes down letters in several
// lanes. Whatever it was told is written is there, each outcome with all that
// belongs to it, and what it was not told is at most one letter a lane.
func TestPostKilledAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many children")
	}
	rng := rand.New(rand.NewPCG(9, 12))
	n := 400 / storetest.Slowdown
	fresh := filepath.Join(t.TempDir(), "shop.db")
	db, err := store.Open(t.Context(), fresh)
	if err != nil {
		t.Fatal(err)
	}
	take(t, db, small())
	if err := outbox.SetSending(t.Context(), db, noon, "owner", true); err != nil {
		t.Fatal(err)
	}
	var all []schedule.Message
	for i := range n {
		l := letter(fmt.Sprint("k", i))
		l.To = fmt.Sprintf("c%d@example.org", i)
		all = append(all, l)
	}
	queue(t, db, all...)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	var took time.Duration
	died := 0
	for i := range kills() + 1 {
		dir := t.TempDir()
		shop, said := filepath.Join(dir, "shop.db"), filepath.Join(dir, "said")
		copyFile(t, fresh, shop)
		c := startChild(t, nil, "post", shop, said)
		if i > 0 {
			time.AfterFunc(time.Duration(rng.Int64N(int64(took))), func() { _ = c.cmd.Process.Kill() })
		}
		code, whole := c.wait()
		switch {
		case i == 0 && code != 0:
			t.Fatalf("exit code %d\n%s", code, c.stderr.String())
		case i == 0:
			took = whole
		case code < 0:
			died++
		}
		checkPost(t, shop, said)
	}
	t.Logf("%d of %d died before the end of %v", died, kills(), took)
	if died < kills()/4 {
		t.Errorf("only %d of %d died: the work is too short to be killed", died, kills())
	}
}

// checkPost compares what a sender was told with what is written.
func checkPost(t *testing.T, shop, said string) {
	t.Helper()
	db, err := store.Open(t.Context(), shop)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
		t.Errorf("%v, %v", bad, err)
	}
	marked, settled := 0, 0
	f, err := os.Open(said)
	if errors.Is(err, os.ErrNotExist) {
		return // killed before the first
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		what, number, _ := strings.Cut(lines.Text(), " ")
		id, err := strconv.ParseInt(number, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		l, err := outbox.Message(t.Context(), db.Reader, id)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case what == "marked":
			marked++
			if l.DotAt.IsZero() {
				t.Errorf("letter %d was marked, and is not: %+v", id, l)
			}
		default:
			settled++
			if l.State != schedule.MessageSent {
				t.Errorf("letter %d was settled, and is %s", id, l.State)
			}
		}
	}
	written, err := outbox.Messages(t.Context(), db.Reader, outbox.MessageQuery{State: schedule.MessageSent, Limit: 1000})
	if err != nil {
		t.Fatal(err)
	}
	// The verdict is written with the outcome; the next drain believes it.
	if err := outbox.NewQueue(db).BelieveDead(t.Context(), noon); err != nil {
		t.Fatal(err)
	}
	for _, l := range written {
		if n := queueOne(t, db, l.To); n != 0 {
			t.Errorf("letter %d is sent, and the address of that outcome is not suppressed", l.ID)
		}
	}
	if d := len(written) - settled; d < 0 || d > 6 {
		t.Errorf("%d letters are settled and %d were told; want at most one a lane more", len(written), settled)
	}
	dots, err := outbox.SentSince(t.Context(), db.Reader, noon.Add(-time.Hour), noon.Add(1000*time.Hour))
	if d := dots - marked; err != nil || d < 0 || d > 6 {
		t.Errorf("%d letters are marked or leased and %d were told, %v; want at most one a lane more", dots, marked, err)
	}
}

// queueOne tries to queue one more letter to an address.
func queueOne(t *testing.T, db *store.DB, to string) int {
	t.Helper()
	l := letter("again " + to)
	l.To = to
	return queue(t, db, l)
}
