package app_test

import (
	"slices"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
)

// TestDecadeOfReminders lives the same years with mail switched on, for a few
// boats, as every look at every customer costs. Nobody hears a step of a visit
// twice, and nobody hears anything after asking for no mail.
func TestDecadeOfReminders(t *testing.T) {
	if testing.Short() {
		t.Skip("ten years take a quarter of a minute")
	}
	s := newDecade(t, 10)
	s.switchOn()
	for n := range 522 {
		s.week()
		s.remind()
		if n == 180 {
			s.stopSome()
		}
	}
	s.notifiedOnce()
}

func (s *decade) switchOn() {
	if err := s.h.SwitchSending(s.t.Context(), s.today.At(8, 0, s.h.Config.Zone()), "test", true); err != nil {
		s.t.Fatal(err)
	}
}

// remind is the Tuesday after a settled week.
func (s *decade) remind() {
	n, err := s.h.Remind(s.t.Context(), (s.today-6).At(10, 0, s.h.Config.Zone()))
	if err != nil {
		s.t.Fatal(err)
	}
	s.queued += n
}

// eachCustomer goes through the shop's customers.
func (s *decade) eachCustomer(fn func(i int, c schedule.Customer, letters []schedule.Message)) {
	all, err := s.h.DB.Customers(s.t.Context(), "", 1000)
	if err != nil {
		s.t.Fatal(err)
	}
	letters, err := outbox.Messages(s.t.Context(), s.h.DB, outbox.MessageQuery{Limit: 1 << 20})
	if err != nil {
		s.t.Fatal(err)
	}
	of := make(map[string][]schedule.Message)
	for _, l := range letters {
		of[l.CustomerID] = append(of[l.CustomerID], l)
	}
	for i, c := range all {
		fn(i, c, of[c.ID])
	}
}

// stopSome lets every third customer ask for no mail.
func (s *decade) stopSome() {
	s.stopped = make(map[string]int)
	s.eachCustomer(func(i int, c schedule.Customer, letters []schedule.Message) {
		if i%3 != 0 {
			return
		}
		if err := s.h.Writer().SetOptOut(s.t.Context(), s.today.At(8, 0, s.h.Config.Zone()), "test", c.ID, true, true); err != nil {
			s.t.Fatal(err)
		}
		s.stopped[c.ID] = len(letters)
	})
}

// notifiedOnce looks at every letter of the ten years.
func (s *decade) notifiedOnce() {
	letters, mailed := 0, 0
	s.eachCustomer(func(_ int, c schedule.Customer, own []schedule.Message) {
		letters += len(own)
		if had, ok := s.stopped[c.ID]; ok && len(own) != had {
			s.t.Errorf("customer %s asked for no mail and then had %d letters", c.ID, len(own)-had)
		}
		heard, err := outbox.Notified(s.t.Context(), s.h.DB, []string{c.ID})
		if err != nil {
			s.t.Fatal(err)
		}
		steps := make(map[string]civil.Day)
		for _, h := range heard[c.ID] {
			if !slices.Contains([]schedule.Step{schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue}, h.Step) {
				continue
			}
			k := h.Subject + " " + string(h.Step)
			if on, twice := steps[k]; twice {
				s.t.Errorf("customer %s heard %s on %s and on %s", c.ID, k, on, h.On)
			}
			steps[k] = h.On
		}
		if len(own) > 0 {
			mailed++
		}
	})
	if letters != s.queued || mailed < 5 {
		s.t.Errorf("%d letters queued, %d found, to %d customers", s.queued, letters, mailed)
	}
	s.t.Logf("%d letters to %d customers in ten years, %d stopped", letters, mailed, len(s.stopped))
}
