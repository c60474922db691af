package app_test

import (
	"slices"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// TestAnEmailOwedOutlivesItsDaemon: the file takes a change, and the daemon comes to its end
// before the email about it is queued. The next daemon queues it, once.
func TestAnEmailOwedOutlivesItsDaemon(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	buyer := schedule.Customer{Name: "Ida Fen", Email: "ida@mail.example"}
	for _, c := range []struct {
		name string
		do   func(p *post, v *schedule.Visit) error
		want []schedule.Step // in order of their names
	}{
		{"sold", func(p *post, _ *schedule.Visit) error {
			s := store.Sale{Form: "form 1", Day: p.day(), Buyer: buyer, Boat: schedule.Boat{Name: "Heron", Make: "Larkline", Model: "19", Year: 2020, Kind: "runabout", LengthFt: 19, Water: "fresh", Place: p.Config.PlaceNames()[0], Berth: "own-dock"}}
			_, _, err := p.Sell(p.t.Context(), p.now, "Inge", s)
			return err
		}, []schedule.Step{schedule.StepWelcome}},
		{"sold on to another", func(p *post, v *schedule.Visit) error {
			_, _, err := p.HandOver(p.t.Context(), p.now, "Inge", store.Handover{BoatID: v.BoatID, Day: p.day(), To: buyer, Booked: store.GiveUpBooked})
			return err
		}, []schedule.Step{schedule.StepPassedOn, schedule.StepWelcome}},
		{"gone to a sister shop", func(p *post, v *schedule.Visit) error {
			t, err := p.BeginTransfer(p.t.Context(), p.now, "Inge", store.Transfer{BoatID: v.BoatID, Sister: "Up the lake", Place: "There", Day: p.day(), Consent: store.Consent{By: "Ida", On: p.day(), How: "by phone"}})
			if err != nil {
				return err
			}
			return p.FinishTransfer(p.t.Context(), p.now, t)
		}, []schedule.Step{schedule.StepPassedOn}},
		{"a new link", func(p *post, v *schedule.Visit) error {
			owner, err := p.OwnerOf(p.t.Context(), v.BoatID)
			if err == nil {
				_ = p.RevokeFeed(p.t.Context(), p.now, "Inge", link.ScopeCustomer, owner.ID) // which is refused the email
			}
			return err
		}, []schedule.Step{schedule.StepNewLink}},
		{"work taken back", func(p *post, v *schedule.Visit) error {
			wash, err := p.Writer().AddRecord(p.t.Context(), p.now, "test", schedule.Record{BoatID: v.BoatID, Day: p.day(), Service: "hull-wash", By: schedule.ByShop, Amount: measure.Cents(100)})
			if err != nil {
				return err
			}
			owner, err := p.OwnerOf(p.t.Context(), v.BoatID)
			if err != nil {
				return err
			}
			told := p.letters(outbox.MessageQuery{CustomerID: owner.ID})[0]
			_, err = p.TakeBackWork(p.t.Context(), p.now, "Inge", "form 2", store.Mistake{BoatID: v.BoatID, Records: []schedule.Record{wash}}, app.CorrectionOwed(v.BoatID, told))
			return err
		}, []schedule.Step{schedule.StepCorrection}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPost(t, byInvitation)
			v, _ := p.firstVisit()
			r := serveRelay(t)
			p.book(v, v.Day-3, 9*60)
			for range 2 {
				p.tick(r)
			}
			before := len(p.letters(outbox.MessageQuery{}))
			// Nothing is queued any more from here on: as if the daemon were no longer there.
			storetest.RawAt(t, p.DB.Path(), "CREATE TRIGGER killed BEFORE INSERT ON outbox BEGIN SELECT RAISE(ABORT, 'killed'); END")
			if err := c.do(p, &v); err != nil {
				t.Fatal(err)
			}
			storetest.RawAt(t, p.DB.Path(), "DROP TRIGGER killed")
			if n := len(p.letters(outbox.MessageQuery{})); n != before {
				t.Fatalf("%d emails are queued already", n-before)
			}
			p.now = p.now.Add(2 * time.Minute)
			for range 3 {
				p.tick(r)
				p.now = p.now.Add(2 * time.Hour)
			}
			var got []schedule.Step
			for _, m := range p.letters(outbox.MessageQuery{})[:len(p.letters(outbox.MessageQuery{}))-before] {
				if m.State == schedule.MessageSent && slices.Contains([]schedule.Step{schedule.StepWelcome, schedule.StepPassedOn, schedule.StepNewLink, schedule.StepCorrection}, m.Step) {
					got = append(got, m.Step)
				}
			}
			slices.Sort(got)
			if !slices.Equal(got, c.want) {
				t.Errorf("sent %q, want %q", got, c.want)
			}
			if left, err := p.DB.Owed(t.Context(), p.now); err != nil || len(left) > 0 {
				t.Errorf("owed still: %+v, %v", left, err)
			}
		})
	}
}

// TestNothingIsOwedToWhoIsGone: before the next turn whom an email is owed to, the boat or
// the email that it is about went from the file, erased or merged into another. The turn
// goes well, and nothing is owed any more.
func TestNothingIsOwedToWhoIsGone(t *testing.T) {
	p := newPost(t, byInvitation)
	v, _ := p.firstVisit()
	owner, err := p.OwnerOf(t.Context(), v.BoatID)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []string{
		"'welcome', 'GONE', 'GONE.welcome'", "'new-link', 'GONE', ''",
		"'passed-on', '" + owner.ID + "', 'GONE.lay-up.2027.booked.2027-10-04.1'",
		"'correction', '" + owner.ID + "', 'GONE' || char(10) || '1'",
		"'correction', '" + owner.ID + "', '" + v.BoatID + "' || char(10) || '999999'",
	} {
		storetest.RawAt(t, p.DB.Path(), "INSERT INTO owed (step, customer_id, subjects, at) VALUES ("+row+", 0)")
	}
	p.tick(serveRelay(t))
	if left, err := p.DB.Owed(t.Context(), p.now); err != nil || len(left) > 0 {
		t.Errorf("owed still: %+v, %v", left, err)
	}
}

// TestAnOwedEmailFollowsAMerge: whom an email is owed to is found to be another
// customer before the next turn, and they get it.
func TestAnOwedEmailFollowsAMerge(t *testing.T) {
	p := newPost(t, byInvitation)
	v, _ := p.firstVisit()
	owner, err := p.OwnerOf(t.Context(), v.BoatID)
	if err != nil {
		t.Fatal(err)
	}
	p.tick(serveRelay(t)) // what the shop has to say by itself
	storetest.RawAt(t, p.DB.Path(), "INSERT INTO customers (id, name, email, contact_by) VALUES ('KEPT', 'Ida Fen', 'ida@mail.example', 'email')")
	storetest.RawAt(t, p.DB.Path(), "INSERT INTO owed (step, customer_id, subjects, at) VALUES ('welcome', '"+owner.ID+"', '"+schedule.WelcomeSubject(v.BoatID)+"', 0)")
	if _, err := p.Merge(t.Context(), p.now, "Inge", duplicates.KindCustomer, "KEPT", owner.ID); err != nil {
		t.Fatal(err)
	}
	p.tick(serveRelay(t))
	var steps []schedule.Step
	for _, m := range p.letters(outbox.MessageQuery{CustomerID: "KEPT"}) {
		steps = append(steps, m.Step)
	}
	if !slices.Contains(steps, schedule.StepWelcome) {
		t.Errorf("the customer kept gets %q, want a welcome", steps)
	}
}
