package app_test

import (
	"fmt"
	"strings"
	"testing"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// TestASeasonOfMailsKeepsToThePolicy rehearses a whole year of the demo shop
// with nobody answering, which is when most is sent, and asks of every mail
// whether the policy allows it beside the customer's others.
func TestASeasonOfMailsKeepsToThePolicy(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through a season")
	}
	today := civil.Of(2026, 11, 25)
	h := demoHouse(t, 7, 400, 6, today)
	settle(t, h, today)
	p := h.Policy()
	days, err := h.Rehearse(t.Context(), today+1, today+365)
	if err != nil {
		t.Fatal(err)
	}
	s := notify.Summarize(days)
	if s.Customers < 200 || s.Mails < 1000 || len(s.Months) != 13 {
		t.Fatalf("%d mails to %d customers in %d months: that is no season", s.Mails, s.Customers, len(s.Months))
	}
	for i := range s.Most {
		checkCustomer(t, &s.Most[i], &p)
	}
	total := 0
	for k, d := range days {
		total += len(d.Notices)
		if room := notify.Ramp(p, int(d.Day-today-1), 0); len(d.Notices) > room {
			t.Errorf("%s: %d mails, day %d of sending allows %d", d.Day, len(d.Notices), k, room)
		}
		if at, open := p.Window.Opens(d.Day, p.Zone); !open {
			t.Errorf("%s: mails on a day without sending (%s)", d.Day, at)
		}
	}
	if total != s.Mails {
		t.Errorf("summed up are %d mails of %d", s.Mails, total)
	}
	for _, m := range s.Months {
		t.Logf("%s: %3d mails to %3d customers, at most %d to one; %v", m.First, m.Mails, m.Customers, m.MostToOne, m.Steps)
	}
}

// checkCustomer looks through all that one customer would hear in a year.
func checkCustomer(t *testing.T, c *notify.CustomerMails, p *notify.PolicyConfig) {
	t.Helper()
	told := map[string]civil.Day{}
	asked := map[string]int{}
	for i, day := range c.Days {
		gap := p.GapDays
		if c.Steps[i] == schedule.StepLastCall {
			gap = p.GapDays
		}
		if i > 0 && int(day-c.Days[i-1]) < gap {
			t.Errorf("%s: %s on %s, %d days after the mail before", c.Customer.ID, c.Steps[i], day, day-c.Days[i-1])
		}
		for _, f := range c.For[i] {
			if boat, _, ok := strings.Cut(f.Subject, ".hours."); ok {
				asked[boat]++
			}
			key := fmt.Sprint(f.Step, " ", f.Subject)
			if before, twice := told[key]; twice {
				t.Errorf("%s: %s on %s and on %s", c.Customer.ID, key, before, day)
			}
			told[key] = day
		}
	}
	for boat, n := range asked {
		if n > p.HoursPerYear {
			t.Errorf("%s: %d requests for hours about %s", c.Customer.ID, n, boat)
		}
	}
	// With a week between mails and three days before a last call no month can
	// hold more.
	if most := 31/p.GapDays + 1 + 1; c.InAMonth > most {
		t.Errorf("%s: %d mails in a month, want at most %d", c.Customer.ID, c.InAMonth, most)
	}
}
