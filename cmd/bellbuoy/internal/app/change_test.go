package app_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// TestAReplyStandsThoughNobodyCanBeTold: a customer cancels nothing by our being
// unable to write to them. The reply is on file, its sender sees no error, and the
// message goes out with the daemon's next round.
func TestAReplyStandsThoughNobodyCanBeTold(t *testing.T) {
	p := newPost(t, "")
	v, c := p.firstVisit()
	_, last := p.notifiedSince(c.ID, 0)
	if err := p.Writer().SetSetting(t.Context(), "sending-since", []byte("no day")); err != nil {
		t.Fatal(err)
	}
	days, err := p.Openings(t.Context(), []*schedule.Visit{&v}, p.day())
	if err != nil || len(days) == 0 {
		t.Fatalf("days with room: %v, %v", days, err)
	}
	if _, err := p.Take(t.Context(), p.now, schedule.Answer{CustomerID: c.ID}, []*schedule.Visit{&v}, days[0].Day, -1, nil); err != nil {
		t.Errorf("the customer is told that it failed: %v", err)
	}
	plan, err := p.DB.Plan(t.Context(), v.BoatID)
	if err != nil || !slices.ContainsFunc(plan.Visits, func(o schedule.Visit) bool { return o.ID == v.ID && o.Booked() }) {
		t.Errorf("the visit is not booked, %v", err)
	}
	if err := p.Writer().SetSetting(t.Context(), "sending-since", []byte("2020-01-01")); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Remind(t.Context(), p.now); err != nil {
		t.Fatal(err)
	}
	if said, _ := p.notifiedSince(c.ID, last); !slices.Contains(said, schedule.StepConfirmation) {
		t.Errorf("by the next round the customer is told %q", said)
	}
}

// TestAChangeSaysWhatItDid: work that moves a due day, and a booking that its
// customer hears of.
func TestAChangeSaysWhatItDid(t *testing.T) {
	p := newPost(t, "")
	v, _ := p.firstVisit()
	did, err := p.Book(t.Context(), p.now, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: v.Day, Minute: -1, Over: true}, nil, true)
	if err != nil || !did.Queued {
		t.Errorf("booked, and queued is %v, %v", did.Queued, err)
	}
	if words := did.Words(words.Format{}); !slices.Contains(words, "The customer gets an email about it.") {
		t.Errorf("the booking says %q", words)
	}
	w := store.Work{BoatID: v.BoatID, FollowUps: []schedule.FollowUp{{
		BoatID: v.BoatID, Service: "repair", Finding: "float sticks\nbilge pump", Raised: p.day(),
	}}}
	if did, err = p.Record(t.Context(), p.now, "test", "", &w, true); err != nil {
		t.Fatal(err)
	}
	due := p.day() + app.RecheckDays
	want := "Follow-up: float sticks: now due " + words.Format{}.Date(due) + "."
	if words := did.Words(words.Format{}); !slices.Contains(words, want) {
		t.Errorf("the finding says %q, want %q", words, want)
	}
	if did, err = p.RemoveFollowUp(t.Context(), p.now, "test", v.BoatID, w.FollowUps[0].ID); err != nil {
		t.Fatal(err)
	}
	if words := did.Words(words.Format{}); !slices.Contains(words, "Follow-up: float sticks: no longer due.") {
		t.Errorf("dropped, it says %q", words)
	}
}

// TestNewAddressesReachTheCalendars: when a customer's addresses are replaced, by
// whichever door, the events of their boats lead to the new page.
func TestNewAddressesReachTheCalendars(t *testing.T) {
	p := newPost(t, "")
	v, c := p.firstVisit()
	if err := p.RevokeFeed(t.Context(), p.now, "test", "customer", c.ID); err != nil {
		t.Fatal(err)
	}
	my, err := p.MyURL(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	feed, err := p.Feed(t.Context(), "boat", v.BoatID, p.day())
	if err != nil {
		t.Fatal(err)
	}
	if unfolded := strings.ReplaceAll(string(feed.Body), "\r\n ", ""); !strings.Contains(unfolded, my) {
		t.Errorf("the boat's calendar does not name %s", my)
	}
}

// TestANewLinkGoesOutAtOnce: whoever's link was replaced gets the new one at the
// address on file, at once and by whichever door, whoever wants no reminders too,
// and no email that still waits leads to the old one.
func TestANewLinkGoesOutAtOnce(t *testing.T) {
	p := newPost(t, "")
	_, c := p.firstVisit()
	old, err := p.MyURL(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	a := schedule.Answer{CustomerID: c.ID, Kind: schedule.AnswerMails}
	if _, err := p.Reply(t.Context(), p.now, store.NewAnswer{Answer: a, Mails: store.MailChoice{NoReminders: true}}); err != nil {
		t.Fatal(err)
	}
	if err := p.RevokeFeed(t.Context(), p.now, "test", "customer", c.ID); err != nil {
		t.Fatal(err)
	}
	now, err := p.MyURL(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	sent := 0
	for _, l := range p.letters(outbox.MessageQuery{Limit: 1000}) {
		if l.CustomerID != c.ID || l.State == schedule.MessageWithdrawn {
			continue
		}
		whole, err := outbox.Message(t.Context(), p.DB, l.ID)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.ReplaceAll(strings.ReplaceAll(string(whole.Raw), "=\r\n", ""), "=3D", "=")
		if strings.Contains(text, old) {
			t.Errorf("%s still waits with the old link", l.Step)
		}
		if l.Step == schedule.StepNewLink && strings.Contains(text, now) {
			sent++
		}
	}
	if sent != 1 {
		t.Errorf("%d emails with the new link, want 1", sent)
	}
	if day, err := p.NewLinkSent(t.Context(), c.ID); err != nil || day != p.day() {
		t.Errorf("sent on %s, %v", day, err)
	}
}
