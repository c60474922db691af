package main

import (
	"strings"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// seasonSteps are the steps in the order of the table's columns.
var seasonSteps = []schedule.Step{
	schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue,
	schedule.StepWarranty, schedule.StepHours, schedule.StepRenewal, schedule.StepConfirmation, schedule.StepBooked, schedule.StepCancellation,
}

// mostShown is how many customers the summary names.
const mostShown = 10

// printSeason shows a rehearsal by month, and who would hear most.
func (a *cli) printSeason(s notify.Season) {
	var used []schedule.Step
	for _, step := range seasonSteps {
		for i := range s.Months {
			if s.Months[i].Steps[step] > 0 {
				used = append(used, step)
				break
			}
		}
	}
	a.printf("%-8s %6s %10s %12s", "month", "mails", "customers", "most to one")
	for _, step := range used {
		a.printf(" %12s", step)
	}
	a.printf("\n")
	for i := range s.Months {
		m := &s.Months[i]
		a.printf("%-8s %6d %10d %12d", m.First.String()[:7], m.Mails, m.Customers, m.MostToOne)
		for _, step := range used {
			a.printf(" %12d", m.Steps[step])
		}
		a.printf("\n")
	}
	for _, c := range s.Most[:min(mostShown, len(s.Most))] {
		a.printf("\n%s: %s, at most %d in a month\n", c.Customer.Name, words.Count(c.Mails, "email"), c.InAMonth)
		for i, day := range c.Days {
			a.printf("    %s  %s\n", day, notifiedWords(c.For[i]))
		}
	}
	if x := s.Spread(); x.Customers > 0 {
		a.printf("\nReminders to one customer: half get at most %d, nine in ten at most %d, nobody more than %d.\n", x.Median, x.Ninety, x.Most)
	}
	a.printf("\n%s to %s in all, if nobody replies; nothing was sent.\n", words.Count(s.Mails, "email"), words.Count(s.Customers, "customer"))
}

// notifiedWords says what one mail was for.
func notifiedWords(all []schedule.Notified) string {
	words := make([]string, len(all))
	for i, h := range all {
		words[i] = string(h.Step) + " " + h.Subject
	}
	return strings.Join(words, ", ")
}

// monthJSON is one month of "mail preview --summary --json".
type monthJSON struct {
	Month     string                `json:"month"`
	Mails     int                   `json:"emails"`
	Customers int                   `json:"customers"`
	MostToOne int                   `json:"most_to_one"`
	Steps     map[schedule.Step]int `json:"steps"`
}

// customerMailsJSON is one customer of it.
type customerMailsJSON struct {
	CustomerID string     `json:"customer_id"`
	InAMonth   int        `json:"most_in_a_month"`
	Mails      []mailJSON `json:"emails"`
}

type mailJSON struct {
	Day civil.Day     `json:"day"`
	For []mailForJSON `json:"for"`
}

type mailForJSON struct {
	Subject string        `json:"subject"`
	Step    schedule.Step `json:"step"`
}

func seasonJSON(s notify.Season) map[string]any {
	months, customers := []monthJSON{}, []customerMailsJSON{}
	for _, m := range s.Months {
		months = append(months, monthJSON{m.First.String()[:7], m.Mails, m.Customers, m.MostToOne, m.Steps})
	}
	for i := range s.Most {
		c := &s.Most[i]
		j := customerMailsJSON{CustomerID: c.Customer.ID, InAMonth: c.InAMonth}
		for k, day := range c.Days {
			m := mailJSON{Day: day}
			for _, h := range c.For[k] {
				m.For = append(m.For, mailForJSON{h.Subject, h.Step})
			}
			j.Mails = append(j.Mails, m)
		}
		customers = append(customers, j)
	}
	return map[string]any{"mails": s.Mails, "months": months, "customers": customers, "reminders": s.Spread()}
}
