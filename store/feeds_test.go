package store_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// event renders itself as its uid, text, sequence and moment.
func event(uid, text string, start civil.Day) store.Event {
	return store.Event{UID: uid, Hash: text, Start: start, Render: func(seq int, changed time.Time) ([]byte, error) {
		return fmt.Appendf(nil, "%s %s %d %s", uid, text, seq, changed.Format("15:04:05")), nil
	}}
}

func sync(t *testing.T, db *store.DB, now time.Time, boat string, events ...store.Event) int {
	t.Helper()
	n, err := db.SyncEvents(t.Context(), now, store.BoatEvents{BoatID: boat, Events: events})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func bodies(t *testing.T, db *store.DB, scope, subject string) (texts []string, changed time.Time) {
	t.Helper()
	all, changed, err := db.FeedEvents(t.Context(), scope, subject, civil.Of(2026, 1, 1), civil.Of(2028, 1, 1), 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range all {
		texts = append(texts, string(b))
	}
	return texts, changed
}

// TestSequencesJump: a file that took the place of a newer one writes every event again
// with a number beyond what was published meanwhile.
func TestSequencesJump(t *testing.T) {
	db := open(t)
	take(t, db, small())
	a := event("a", "one", civil.Of(2027, 5, 3))
	sync(t, db, noon, "B1", a)
	clean(t, db)
	if err := db.JumpSequences(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := dirty(t, db); !cmp.Equal(got, []string{"B1"}) {
		t.Errorf("%v are to be published again, want B1", got)
	}
	sync(t, db, noon.Add(time.Hour), "B1", a)
	if got, _ := bodies(t, db, store.FeedBoat, "B1"); !cmp.Equal(got, []string{"a one 1001 13:00:00"}) {
		t.Errorf("the feed is %v", got)
	}
}

func TestEventsKeepTheirBytesUntilTheyChange(t *testing.T) {
	db := open(t)
	take(t, db, small())
	spring, autumn := civil.Of(2027, 5, 3), civil.Of(2027, 9, 20)
	a, b := event("a", "one", autumn), event("b", "one", spring)
	if n := sync(t, db, noon, "B1", a, b); n != 2 {
		t.Errorf("%d new events, want 2", n)
	}
	first, changed := bodies(t, db, store.FeedBoat, "B1")
	if diff := cmp.Diff([]string{"b one 0 12:00:00", "a one 0 12:00:00"}, first); diff != "" {
		t.Errorf("feed differs (-want +got):\n%s", diff)
	}
	if n := sync(t, db, noon.Add(time.Hour), "B1", a, b); n != 0 {
		t.Errorf("%d events changed by the same plan", n)
	}
	if again, same := bodies(t, db, store.FeedBoat, "B1"); !cmp.Equal(again, first) || !same.Equal(changed) {
		t.Errorf("the unchanged feed became %v at %s", again, same)
	}
	// Within the same second the moment still rises.
	sync(t, db, noon, "B1", event("a", "two", autumn), b)
	second, later := bodies(t, db, store.FeedBoat, "B1")
	if diff := cmp.Diff([]string{"b one 0 12:00:00", "a two 1 12:00:01"}, second); diff != "" {
		t.Errorf("feed differs (-want +got):\n%s", diff)
	}
	if !later.After(changed) {
		t.Errorf("the feed changed at %s and then at %s", changed, later)
	}
	if n := sync(t, db, noon.Add(2*time.Hour), "B1", b); n != 1 {
		t.Errorf("%d events left, want 1", n)
	}
	if got, _ := bodies(t, db, store.FeedBoat, "B1"); !cmp.Equal(got, []string{"b one 0 12:00:00"}) {
		t.Errorf("after one left the feed is %v", got)
	}
	sync(t, db, noon.Add(3*time.Hour), "B1", event("a", "two", autumn), b)
	if got, _ := bodies(t, db, store.FeedBoat, "B1"); !cmp.Equal(got, []string{"b one 0 12:00:00", "a two 2 15:00:00"}) {
		t.Errorf("after one returned the feed is %v; want the next sequence", got)
	}
}

func TestFeedsOfOwnersAndDesk(t *testing.T) {
	db := open(t)
	take(t, db, small())
	day := civil.Of(2027, 5, 3)
	sync(t, db, noon, "B1", event("b1", "x", day))
	sync(t, db, noon, "B3", event("b3", "x", day))
	for _, c := range []struct {
		scope, subject string
		want           int
	}{{store.FeedDesk, "", 2}, {store.FeedCustomer, "C1", 1}, {store.FeedCustomer, "C3", 1}, {store.FeedCustomer, "C2", 0}, {store.FeedBoat, "B2", 0}} {
		if got, _ := bodies(t, db, c.scope, c.subject); len(got) != c.want {
			t.Errorf("%s feed %q holds %v, want %d events", c.scope, c.subject, got, c.want)
		}
	}
	for _, scope := range []string{store.FeedBoat, store.FeedCustomer} {
		if _, err := db.FeedState(t.Context(), scope, "nobody"); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%s feed of nobody: %v, want ErrNotFound", scope, err)
		}
	}
}

func TestFeedDiesWithTheOwnership(t *testing.T) {
	db := open(t)
	take(t, db, small())
	sync(t, db, noon, "B1", event("a", "speaks to Zoë", civil.Of(2027, 5, 3)))
	before, err := db.FeedState(t.Context(), store.FeedBoat, "B1")
	if err != nil {
		t.Fatal(err)
	}
	_, zoe := bodies(t, db, store.FeedCustomer, "C1")
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "C2", civil.Of(2026, 11, 20)); err != nil {
		t.Fatal(err)
	}
	after, err := db.FeedState(t.Context(), store.FeedBoat, "B1")
	if err != nil || after.Generation != before.Generation+1 {
		t.Errorf("generation went from %d to %d, %v; want the next", before.Generation, after.Generation, err)
	}
	for _, customer := range []string{"C1", "C2"} {
		if got, _ := bodies(t, db, store.FeedCustomer, customer); len(got) != 0 {
			t.Errorf("customer %s still sees %v", customer, got)
		}
	}
	if _, now := bodies(t, db, store.FeedCustomer, "C1"); !now.After(zoe) {
		t.Errorf("the earlier owner's feed did not change: %s, %s", zoe, now)
	}
	if n, err := db.RevokeFeed(t.Context(), noon, "desk", store.FeedDesk, ""); err != nil || n != 2 {
		t.Errorf("the desk's feed is at generation %d, %v; want 2", n, err)
	}
}

func TestFailedRenderingChangesNothing(t *testing.T) {
	db := open(t)
	take(t, db, small())
	bad := event("b", "x", civil.Of(2027, 5, 3))
	boom := errors.New("boom")
	bad.Render = func(int, time.Time) ([]byte, error) { return nil, boom }
	_, err := db.SyncEvents(t.Context(), noon, store.BoatEvents{BoatID: "B1", Events: []store.Event{event("a", "x", civil.Of(2027, 5, 3)), bad}})
	if !errors.Is(err, boom) {
		t.Fatalf("error %v, want the renderer's", err)
	}
	if got, _ := bodies(t, db, store.FeedBoat, "B1"); len(got) != 0 {
		t.Errorf("half of the feed was written: %v", got)
	}
}
