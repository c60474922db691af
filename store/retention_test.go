package store_test

import (
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// After thirteen months a message keeps all but its bytes, an event that left the
// plan all but its text; what still waits or is younger keeps everything.
func TestThin(t *testing.T) {
	db := storetest.Mailing(t)
	storetest.Queue(t, db, storetest.Message("old"), storetest.Message("waiting"), storetest.Message("young"))
	storetest.Raw(t, db,
		"UPDATE outbox SET queued_at = 1700000000 WHERE key IN ('old', 'waiting')",
		"UPDATE outbox SET state = 'sent', done_at = 1700000100 WHERE key = 'old'",
		"UPDATE outbox SET state = 'sent', done_at = queued_at WHERE key = 'young'",
		"INSERT INTO feed_events (boat_id, uid, hash, sequence, changed_at, start_day, live, body) VALUES ('B1', 'gone', 'h', 3, 1700000000, '2024-05-01', 0, x'4245'), ('B1', 'live', 'h', 1, 1700000000, '2024-05-01', 1, x'4245')",
		"INSERT INTO ticks VALUES ('remind', 'a', 1700000000), ('remind', 'b', 1795000000), ('letter', 'a', 1700000000)",
	)
	got, err := db.Thin(t.Context(), noon.AddDate(0, -13, 0), []string{"remind"})
	if want := (store.Thinned{Messages: 1, Events: 1, Ticks: 1}); err != nil || got != want {
		t.Fatalf("thinned %+v, %v; want %+v", got, err, want)
	}
	all, err := outbox.Messages(t.Context(), db.Reader, outbox.MessageQuery{Limit: 10})
	if err != nil || len(all) != 3 {
		t.Fatalf("%d messages, %v", len(all), err)
	}
	for i := range all {
		l, err := outbox.Message(t.Context(), db.Reader, all[i].ID)
		if err != nil {
			t.Fatal(err)
		}
		if old := l.Key == "old"; old != (len(l.Raw) == 0) || l.MessageID == "" || l.Subject == "" || l.Step == "" || old && l.State != schedule.MessageSent {
			t.Errorf("%s is %d bytes: %+v", l.Key, len(l.Raw), l)
		}
	}
	if again, err := db.Thin(t.Context(), noon.AddDate(0, -13, 0), []string{"remind"}); err != nil || again != (store.Thinned{}) {
		t.Errorf("again %+v, %v", again, err)
	}
	// An event that comes back is written again, with the next number.
	render := func(sequence int, _ time.Time) ([]byte, error) {
		if sequence != 4 {
			t.Errorf("it comes back with sequence %d, want 4", sequence)
		}
		return []byte("BEGIN again"), nil
	}
	if _, err := db.SyncEvents(t.Context(), noon, store.BoatEvents{BoatID: "B1", Events: []store.Event{{UID: "gone", Hash: "h", Start: day(t, "2027-05-01"), Render: render}}}); err != nil {
		t.Fatal(err)
	}
}
