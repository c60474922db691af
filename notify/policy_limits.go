package notify

import (
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

// isCapped reports whether mails of a step count towards the yearly cap: all
// reminders do. Confirmations and the other mails about a booked visit do not,
// nor do the welcome and the summary.
func isCapped(s schedule.Step) bool {
	return slices.Contains(reminderSteps[:], s) || s == schedule.StepWarranty || s == schedule.StepHours || s == schedule.StepRenewal
}

// rests says why no reminder is mailed to the customer although mail reaches
// him, "" if there is nothing against it. He is called instead.
func (d *decision) rests() CallReason {
	switch {
	case d.cfg.SilentSeasons > 0 && d.silentSeasons() >= d.cfg.SilentSeasons:
		return CallSilent
	case d.cfg.YearlyCap > 0 && d.remindersThisYear() >= d.cfg.YearlyCap:
		return CallCapped
	}
	return ""
}

// allowed leaves of the visits that call for a step those of which a mail may go
// out. The yearly cap lets pass what expires soon and nothing has told of yet; whose
// boat has lapsed is silent by that, and hears once a year all the same.
func (d *decision) allowed(due []dueVisit) []dueVisit {
	switch d.rests() {
	case "":
		return due
	case CallCapped:
		return slices.DeleteFunc(due, func(x dueVisit) bool {
			return !d.expiring(&x.visit.Visit) || d.reminded(x.visit.Visit.Visit.ID)
		})
	}
	return slices.DeleteFunc(due, func(x dueVisit) bool { return !x.visit.Visit.Visit.Lapsed })
}

// expiring reports whether something of a visit must by law or its own print not
// be used any more soon, or its warranty ends.
func (d *decision) expiring(v *schedule.VisitView) bool {
	return slices.ContainsFunc(v.Lines, func(l schedule.Line) bool {
		return l.Guarded && !l.Included && l.Item.Basis == schedule.BasisExpiry && l.Item.ByDate < d.today+expirySoon
	})
}

// expirySoon is in how many days an expiry is near enough to be told of over the
// yearly cap.
const expirySoon = 60

// remindersThisYear counts the reminders that the customer had in the calendar
// year, whatever they were about: one a day, as one mail carries all.
func (d *decision) remindersThisYear() int {
	year, _, _ := d.today.Date()
	var days []civil.Day
	for _, h := range d.r.Notified {
		if y, _, _ := h.On.Date(); y == year && isCapped(h.Step) && !slices.Contains(days, h.On) {
			days = append(days, h.On)
		}
	}
	return len(days)
}

// silentSeasons counts the seasons before this one in which the customer was
// reminded, without a sign of life since: no reply, booking or reading, and no
// work of ours on record.
func (d *decision) silentSeasons() int {
	last := d.r.LastSign
	for i := range d.r.Answers {
		last = max(last, civil.FromTime(d.r.Answers[i].At.In(d.cfg.Zone)))
	}
	for i := range d.r.Boats {
		for j := range d.r.Boats[i].Visits {
			if d.r.Boats[i].Visits[j].Visit.Booked() {
				return 0
			}
		}
	}
	var silent []returns.Season
	now := returns.SeasonOf(d.today)
	for _, h := range d.r.Notified {
		s := returns.SeasonOf(h.On)
		if slices.Contains(reminderSteps[:], h.Step) && !h.InDoubt && h.On > last && s != now && h.On < d.today && !slices.Contains(silent, s) {
			silent = append(silent, s)
		}
	}
	return len(silent)
}
