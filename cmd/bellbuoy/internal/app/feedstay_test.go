package app_test

import (
	"bytes"
	"regexp"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// blocks are the events of a calendar by their UID, as written.
func blocks(t *testing.T, body []byte) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, b := range regexp.MustCompile(`(?s)BEGIN:VEVENT.*?END:VEVENT`).FindAll(body, -1) {
		uid := regexp.MustCompile(`(?m)^UID:(\S+)`).FindSubmatch(b)
		if uid == nil {
			t.Fatalf("an event without a UID:\n%s", b)
		}
		all[string(uid[1])] = string(b)
	}
	return all
}

func stamp(t *testing.T, name, block string) string {
	t.Helper()
	m := regexp.MustCompile(`(?m)^` + name + `:(\S+)`).FindStringSubmatch(block)
	if m == nil {
		t.Fatalf("no %s in\n%s", name, block)
	}
	return m[1]
}

func feedOf(t *testing.T, a *app.App, customer string, today civil.Day) []byte {
	t.Helper()
	f, err := a.Feed(t.Context(), link.ScopeCustomer, customer, today)
	if err != nil || f.Cut != 0 {
		t.Fatalf("%d cut, %v", f.Cut, err)
	}
	return f.Body
}

// TestAnUnchangedFeedStaysAndAChangedEventMoves opens the shop again with a clock
// that is hours ahead and publishes everything once more: not a byte moves. Then
// one visit is booked: that event alone has a new SEQUENCE and LAST-MODIFIED.
func TestAnUnchangedFeedStaysAndAChangedEventMoves(t *testing.T) {
	p := newPost(t, "")
	v, c := p.firstVisit()
	today := p.day()
	first := feedOf(t, p.App, c.ID, today)
	again, err := app.Open(t.Context(), p.Config)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	boats, err := again.DB.BoatsOf(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	ids := make([]string, len(boats))
	for i := range boats {
		ids[i] = boats[i].ID
	}
	later := p.now.Add(7 * time.Hour)
	if err := again.Publish(t.Context(), later, today, ids); err != nil {
		t.Fatal(err)
	}
	if second := feedOf(t, again, c.ID, today); !bytes.Equal(first, second) {
		t.Fatalf("nothing changed, and the feed did:\n%s\n%s", first, second)
	}
	if err := again.Writer().Book(t.Context(), later, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: v.Day - 3, Minute: 9 * 60}, nil, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := again.Settle(t.Context(), later, today, nil); err != nil {
		t.Fatal(err)
	}
	was, is := blocks(t, first), blocks(t, feedOf(t, again, c.ID, today))
	booked := feed.UID(p.Config.Host(), v.ID)
	for uid, block := range is {
		old, known := was[uid]
		switch {
		case uid == booked:
			if stamp(t, "SEQUENCE", block) <= stamp(t, "SEQUENCE", old) || stamp(t, "LAST-MODIFIED", block) <= stamp(t, "LAST-MODIFIED", old) ||
				stamp(t, "DTSTAMP", block) != stamp(t, "LAST-MODIFIED", block) || stamp(t, "STATUS", block) != "CONFIRMED" {
				t.Errorf("the booked event was\n%s\nand is\n%s", old, block)
			}
		case known && block != old:
			t.Errorf("an event that was left alone was\n%s\nand is\n%s", old, block)
		}
	}
	if is[booked] == "" || len(is) < 3 {
		t.Errorf("%d events, the booked one is %q", len(is), is[booked])
	}
}
