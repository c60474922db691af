package app_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// TestAQueuedEmailSpeaksTheLanguageOfToday: a customer reads French from now on while an
// email in English waits. It does not go out; one in French does, once.
func TestAQueuedEmailSpeaksTheLanguageOfToday(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		step    schedule.Step
		queue   func(p *post, v *schedule.Visit) error
		subject string // in French, after the boat's title
	}{
		{schedule.StepWelcome, func(p *post, v *schedule.Visit) error {
			_, err := p.Welcome(p.t.Context(), p.now, v.BoatID)
			return err
		}, "\u00a0: ce qui vient, et quand"},
		{schedule.StepPassedOn, func(p *post, v *schedule.Visit) error {
			p.book(*v, v.Day-3, 9*60)
			_, _, err := p.HandOver(p.t.Context(), p.now, "test", store.Handover{BoatID: v.BoatID, Day: p.day(), Gone: true, Booked: store.GiveUpBooked})
			return err
		}, "\u00a0: votre rendez-vous, maintenant que le bateau n'est plus à vous"},
		{schedule.StepSummary, func(p *post, v *schedule.Visit) error {
			rec := schedule.Record{BoatID: v.BoatID, Day: p.day(), Service: "hull-wash", By: schedule.ByShop, Amount: measure.Cents(100)}
			_, err := p.Writer().AddRecord(p.t.Context(), p.now, "test", rec)
			for range 3 {
				p.now = p.now.AddDate(0, 0, 1)
				settle(p.t, p.App, p.day())
			}
			if err == nil {
				_, err = p.Remind(p.t.Context(), p.now)
			}
			return err
		}, "\u00a0: ce que nous avons fait et ce qui vient"},
	} {
		for _, killed := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, killed as it is withdrawn: %t", c.step, killed), func(t *testing.T) { speaksFrench(t, c.step, c.queue, c.subject, killed) })
		}
	}
}

// speaksFrench queues an email of a step and changes its reader's language.
func speaksFrench(t *testing.T, step schedule.Step, queue func(*post, *schedule.Visit) error, subject string, killed bool) {
	p := newPost(t, "[reminders]\nafter_visit = true\n")
	v, who := p.firstVisit()
	boat, err := p.DB.Boat(t.Context(), v.BoatID)
	if err != nil {
		t.Fatal(err)
	}
	r := serveRelay(t)
	p.tick(r)
	if err := queue(p, &v); err != nil {
		t.Fatal(err)
	}
	who.Language = "fr"
	if err := storetest.SaveCustomer(t.Context(), p.Writer(), p.now, "test", who); err != nil {
		t.Fatal(err)
	}
	if killed { // before anything is worded again; the next hour makes up for it
		for {
			if _, err := outbox.NewQueue(p.Writer()).Claim(t.Context(), p.now, time.Minute); errors.Is(err, store.ErrNone) {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
		p.now = p.now.Add(time.Hour)
	}
	for range 3 {
		p.tick(r)
	}
	sent := 0
	for _, m := range p.letters(outbox.MessageQuery{CustomerID: who.ID}) {
		if m.Step == step && m.State == schedule.MessageSent {
			if sent++; m.Subject != boat.Title()+subject {
				t.Errorf("sent %q", m.Subject)
			}
		}
	}
	if sent != 1 {
		t.Errorf("%d are sent, want one", sent)
	}
}
