//go:build linux

package app_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// somebody is a customer who does something.
func (s *troubled) somebody() {
	id := s.ids[s.rng.IntN(len(s.ids))]
	owner, err := s.h.OwnerOf(s.t.Context(), id)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		s.t.Fatal(err)
	}
	if owner.ID == "" {
		return
	}
	what := s.rng.IntN(24)
	var did string
	switch {
	case what == 0:
		did, err = s.stops(owner.ID)
	case what == 1:
		did, err = s.sells(id)
	case what == 2:
		did, err = s.moves(owner)
	case what < 8:
		did, err = s.takesADay(owner.ID, id)
	default:
		did, err = s.replies(owner.ID, id, what)
	}
	s.moment++
	s.logf("%s: customer %s of boat %s %s: %v", s.now, owner.ID, id, did, err)
	switch {
	case errors.Is(err, store.ErrRefused), errors.Is(err, store.ErrStale), errors.Is(err, store.ErrNotFound), errors.Is(err, app.ErrNoRoom), isTaken(err):
		s.happened["customer refused"]++
	case err != nil:
		s.t.Fatalf("%s: customer %s of boat %s %s: %v", s.now, owner.ID, id, did, err)
	case did != "":
		s.happened[did]++
	}
}

// isTaken reports whether a day cannot be had.
func isTaken(err error) bool {
	var week *app.FullWeek
	var day *app.FullDay
	var hour *app.TakenHour
	var notice *app.ShortNotice
	return errors.As(err, &week) || errors.As(err, &day) || errors.As(err, &hour) || errors.As(err, &notice)
}

// logf tells the story, with -story.
func (s *troubled) logf(format string, args ...any) {
	if *troubledStory {
		s.t.Logf(format, args...)
	}
}

// stops asks for no email at all, and stands by it.
func (s *troubled) stops(customer string) (string, error) {
	if s.stopped[customer] != 0 {
		return "", nil
	}
	_, err := s.h.Reply(s.t.Context(), s.now, store.NewAnswer{
		Answer: schedule.Answer{CustomerID: customer, Kind: schedule.AnswerMails}, Mails: store.MailChoice{NoReminders: true, NoMail: true},
	})
	if err == nil {
		s.moment++
		s.stopped[customer] = s.moment
	}
	return "stops", err
}

// sells passes a boat to a customer who is new.
func (s *troubled) sells(boat string) (string, error) {
	s.forms++
	to := schedule.Customer{Name: fmt.Sprint("Buyer ", s.forms), Email: fmt.Sprintf("buyer%d@mail.example", s.forms), ContactBy: "email"}
	_, _, err := s.h.HandOver(s.t.Context(), s.now, "Inge", store.Handover{BoatID: boat, Day: s.h.Day(s.now), To: to, Booked: store.GiveUpBooked})
	return "sells", err
}

// moves gives a customer another home and another email address.
func (s *troubled) moves(was schedule.Customer) (string, error) {
	is := was
	s.forms++
	is.Address, is.Email = fmt.Sprint(s.forms, " Shore Road"), fmt.Sprintf("moved%d@mail.example", s.forms)
	_, err := s.h.ChangeCustomer(s.t.Context(), s.now, "Inge", s.form(), was, is)
	return "moves", err
}

// takesADay books the first day that is offered for a boat's next visit.
func (s *troubled) takesADay(customer, boat string) (string, error) {
	v := s.openVisit(boat)
	if v == nil {
		return "", nil
	}
	all, err := s.h.Openings(s.t.Context(), []*schedule.Visit{v}, s.h.Day(s.now))
	if err != nil || len(all) == 0 {
		return "", err
	}
	o := all[s.rng.IntN(len(all))]
	_, err = s.h.Take(s.t.Context(), s.now, schedule.Answer{CustomerID: customer}, []*schedule.Visit{v}, o.Day, o.First(), nil)
	return "takes a day", err
}

// replies is what else a customer says of a visit. Those who always come never put
// it off.
func (s *troubled) replies(customer, boat string, what int) (string, error) {
	v := s.openVisit(boat)
	if v == nil {
		return "", nil
	}
	a := schedule.Answer{CustomerID: customer, BoatID: boat, VisitID: v.ID}
	n := store.NewAnswer{}
	switch always := s.boats[boat].comes == 1; {
	case what < 10:
		a.Kind = schedule.AnswerCall
	case always:
		return "", nil
	case what < 14:
		a.Kind, a.Until = schedule.AnswerLater, s.h.Day(s.now)+civil.Day(7+s.rng.IntN(40))
	case what < 16:
		a.Kind = schedule.AnswerDecline
	case what < 18:
		a.Kind = schedule.AnswerElsewhere
		n.Records = []schedule.Record{{BoatID: boat, Day: s.h.Day(s.now), Service: "hull-wash", By: schedule.ByElsewhere}}
	default:
		return "", nil
	}
	n.Answer = a
	saved, err := s.h.Reply(s.t.Context(), s.now, n)
	if err == nil && s.rng.IntN(4) == 0 {
		s.happened["reply taken back"]++
		_, err = s.h.UndoReply(s.t.Context(), s.now.Add(60e9), customer, saved.ID)
	}
	return "says " + string(a.Kind), err
}

// quiet are days without faults, for what waits.
func (s *troubled) quiet() {
	s.goodServer()
	for day := range civil.Day(8) {
		s.now = (s.today + day).At(10, 0, s.h.Config.Zone())
		s.lookAfterMail()
		s.tick(s.t.Context(), true)
	}
}

// reminders are the steps that a visit is reminded of once each.
var reminders = []schedule.Step{schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue}

// took reports whether an email was a step of reminding for a visit. One of several
// visits has the step of the most urgent, and the others may have theirs.
func (s *troubled) took(m *schedule.Message, visit string, step schedule.Step) bool {
	if len(m.Subjects) == 1 {
		return m.Step == step
	}
	return storetest.Count(s.t, s.h.Writer(), fmt.Sprintf("SELECT count(*) FROM heard WHERE letter_id = %d AND subject = '%s' AND step = '%s'", m.ID, visit, step)) > 0
}

// checkMail compares what the server took with what the outbox says.
func (s *troubled) checkMail() {
	all, err := outbox.Messages(s.t.Context(), s.h.DB, outbox.MessageQuery{Limit: 1 << 20})
	if err != nil {
		s.t.Fatal(err)
	}
	states, heard, told := map[schedule.MessageState]int{}, map[string]int64{}, map[string]bool{}
	for i := range all {
		m := &all[i]
		states[m.State]++
		if m.State == schedule.MessageSent || m.State == schedule.MessageUncertain {
			told[m.MessageID] = true // one that was withdrawn has left its id to the letter in its place
		}
	}
	for id, at := range s.arrived {
		if !told[id] || len(at) > 1 {
			s.t.Errorf("the server took %s %d times, and the outbox says sent or in doubt: %v", id, len(at), told[id])
		}
	}
	for i := range all {
		m := &all[i]
		at := s.arrived[m.MessageID]
		if len(at) == 0 && m.State == schedule.MessageSent {
			s.t.Errorf("letter %d (%s) is sent and never arrived", m.ID, m.Step)
		}
		for _, moment := range at {
			if since := s.stopped[m.CustomerID]; since != 0 && moment > since {
				s.t.Errorf("letter %d (%s) reached customer %s after the stop", m.ID, m.Step, m.CustomerID)
			}
		}
		if len(at) == 0 || m.State == schedule.MessageWithdrawn {
			continue
		}
		for _, visit := range m.Subjects {
			for _, step := range reminders {
				if !s.took(m, visit, step) {
					continue
				}
				what := m.CustomerID + " " + visit + " " + string(step)
				if before, twice := heard[what]; twice {
					s.t.Errorf("%s was heard by letters %d and %d", what, before, m.ID)
				}
				heard[what] = m.ID
			}
		}
	}
	if len(heard) < 10 {
		s.t.Errorf("only %d reminders of a visit arrived", len(heard))
	}
	s.t.Logf("%d letters, of which the server took %d: %v; %d customers stopped", len(all), len(s.arrived), states, len(s.stopped))
}

// compareOutlines decides for everybody by outlines and by views in words. What is
// decided is the same, and so is everything in it that is no word.
func (s *troubled) compareOutlines() {
	policy := s.h.Policy()
	policy.HoldOutPercent = 30
	now := s.today.At(10, 0, s.h.Config.Zone())
	decide := func(r *schedule.Recipient) (out []string) {
		r.Holdouts = append(r.Holdouts, notify.AssignHoldouts(*r, policy, now)...)
		for _, n := range notify.Decide(*r, policy, now) {
			out = append(out, fmt.Sprintln(n.Step, n.Subjects, n.Key, n.At, n.NotAfter, n.AtOnce, n.Notified, n.Names, len(n.Visits), len(n.Readings), len(n.Renewals), r.Holdouts))
			s.happened["notices by outline"]++
		}
		return out
	}
	byOutline := map[string][]string{}
	err := s.h.EachOutline(s.t.Context(), func(r *schedule.Recipient) error {
		byOutline[r.Customer.ID] = decide(r)
		return nil
	})
	if err == nil {
		err = s.h.EachRecipient(s.t.Context(), func(r *schedule.Recipient) error {
			if want := decide(r); !slices.Equal(byOutline[r.Customer.ID], want) {
				s.t.Errorf("%s: customer %s is told by outline\n%s\nand in words\n%s", now, r.Customer.ID, byOutline[r.Customer.ID], want)
			}
			return nil
		})
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// checkPaid counts the money again: what was acknowledged, the file by SQL, and the
// owner's figures are the same to the cent.
func (s *troubled) checkPaid() {
	var whole schedule.Cents
	for year, want := range s.paid {
		got := storetest.Count(s.t, s.h.Writer(), fmt.Sprintf("SELECT coalesce(sum(amount), 0) FROM records WHERE done_by = 'shop' AND amount > 0 AND day LIKE '%s-%%'", year))
		if schedule.Cents(got) != want {
			s.t.Errorf("%s: %s on file, %s acknowledged", year, schedule.Cents(got), want)
		}
		whole += want
	}
	l := ledger(s.t, s.h, s.today)
	r, err := l.Report(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	for _, season := range r.Revenue.Seasons {
		got := season.Repeat.Cents + season.Other.Cents
		want := storetest.Count(s.t, s.h.Writer(), fmt.Sprintf("SELECT coalesce(sum(amount), 0) FROM records WHERE done_by = 'shop' AND amount > 0 AND day BETWEEN '%s' AND '%s'", season.Season.First(), min(season.Season.Last(), s.today)))
		if int64(got) != want {
			s.t.Errorf("season %s: the owner's page has %s, SQL %s", season.Season, got, schedule.Cents(want))
		}
	}
	if whole == 0 {
		s.t.Error("nothing was paid")
	}
}

// checkFile looks the whole file through.
func (s *troubled) checkFile() {
	bad, err := s.h.DB.Check(s.t.Context())
	if err != nil || len(bad) > 0 {
		s.t.Errorf("the file: %s, %v", strings.Join(bad, "; "), err)
	}
	wrong, err := s.h.Check(s.t.Context(), s.h.Day(s.now))
	// What the desk has to ask: who did not come.
	wrong = slices.DeleteFunc(wrong, func(w string) bool { return strings.Contains(w, " and no work is recorded") })
	if err != nil || len(wrong) > 0 {
		s.t.Errorf("the plan: %s, %v", strings.Join(wrong, "; "), err)
	}
	calendarsAreWritten(s.t, s.h, s.now)
}
