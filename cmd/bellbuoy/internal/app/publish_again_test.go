package app_test

import (
	"bytes"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store/storetest"
)

// TestACalendarOutlivesItsDaemon: the file takes a change, or a new day's plans, and the
// daemon comes to its end before the calendars are written. The next turn writes
// them: they say what they would if all were written now.
func TestACalendarOutlivesItsDaemon(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name string
		do   func(p *post) error
	}{
		{"booked", func(p *post) error {
			v, _ := p.firstVisit()
			_, err := p.Book(t.Context(), p.now, "Inge", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: v.Day - 3, Minute: 9 * 60, Over: true}, nil, true)
			return err
		}},
		{"weeks later", func(p *post) error {
			p.now = p.now.AddDate(0, 0, 45)
			_, err := p.Settle(t.Context(), p.now, p.day(), nil)
			return err
		}},
		{"link replaced", func(p *post) error {
			_, owner := p.firstVisit()
			return p.RevokeFeed(t.Context(), p.now, "Inge", link.ScopeCustomer, owner.ID)
		}},
		{"key renewed", func(p *post) error { return p.RenewKey(t.Context(), p.now, "Inge", false) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPost(t, byInvitation)
			p.tick(serveRelay(t))
			for _, what := range []string{"INSERT", "UPDATE"} {
				storetest.RawAt(t, p.DB.Path(), "CREATE TRIGGER killed_"+what+" BEFORE "+what+" ON feed_events BEGIN SELECT RAISE(ABORT, 'killed'); END")
			}
			if err := c.do(p); err == nil {
				t.Fatal("the calendars were written")
			}
			for _, what := range []string{"INSERT", "UPDATE"} {
				storetest.RawAt(t, p.DB.Path(), "DROP TRIGGER killed_"+what)
			}
			for range 2 {
				p.now = p.now.Add(time.Minute)
				p.tick(serveRelay(t))
			}
			calendarsAreWritten(t, p.App, p.now)
		})
	}
}

// calendarsAreWritten holds every calendar on file to what it would say if all were
// written now.
func calendarsAreWritten(t testing.TB, a *app.App, now time.Time) {
	t.Helper()
	ids, err := a.DB.BoatIDs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	calendars := func() [][]byte {
		var all [][]byte
		for _, id := range ids {
			f, err := a.Feed(t.Context(), link.ScopeBoat, id, a.Day(now))
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, f.Body)
		}
		return all
	}
	was := calendars()
	if err := a.Publish(t.Context(), now, a.Day(now), ids); err != nil {
		t.Fatal(err)
	}
	for i, is := range calendars() {
		if !bytes.Equal(was[i], is) {
			t.Errorf("the calendar of boat %s is not written", ids[i])
		}
	}
}
