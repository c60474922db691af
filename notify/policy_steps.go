package notify

import (
	"cmp"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// reminderSteps are the steps of reminding for one visit, in order.
var reminderSteps = [...]schedule.Step{schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue}

// stepWindow is one step of one visit: the first day on which it is due and the last
// on which it is still worth taking.
type stepWindow struct {
	step        schedule.Step
	first, last civil.Day
}

// windows gives the days of a visit's steps. A step ends where the next begins,
// so that whoever comes late to them hears only the latest; what names a
// week ends with that week, and every step while the visit can still be booked
// in time with the shop's notice. Past its deadline a visit is told of if its
// customer knows nothing of it; whoever was told is called. Of a lapsed boat there is
// a first reminder only, for as long as its visit makes sense.
func (d *decision) windows(v *schedule.VisitView) []stepWindow {
	c := &d.cfg
	from, to := v.Visit.SpanOn()
	limit := deadline(&v.Visit)
	invite, nudge := from-civil.Day(c.InvitationDays), from-civil.Day(c.NudgeDays)
	call, over := limit-civil.Day(c.LastCallDays), limit+1
	// A deadline soon after the week, or before it, would call before nudging.
	nudge = min(nudge, call)
	end := c.Window.WorkingDaysBefore(limit, c.Notice(&v.Visit))
	if v.Visit.Lapsed {
		return []stepWindow{{schedule.StepInvitation, invite, max(to, end)}}
	}
	second, final := d.steps(v)
	until := call - 1 // the first reminder's last day
	if second {
		until = nudge - 1
	}
	all := []stepWindow{{schedule.StepInvitation, invite, min(until, to, end)}}
	if second {
		all = append(all, stepWindow{schedule.StepNudge, nudge, min(call-1, to, end)})
	}
	if final {
		all = append(all, stepWindow{schedule.StepLastCall, call, end})
	}
	if d.reminded(v.Visit.ID) {
		over = limit + civil.Day(c.OverdueDays) // the days of grace are for replying
	}
	return append(all, stepWindow{schedule.StepOverdue, over, limit + civil.Day(c.OverdueDays+c.StaleDays)})
}

// deadline is the last day on which a visit is in time.
func deadline(v *schedule.Visit) civil.Day { return cmp.Or(v.Deadline, v.Close) }

// steps says which reminders follow the first of a visit: a small visit has no
// second one, and a customer who was silent all the season before is called where
// the final one would go out, unless the law or safety asks for the work.
func (d *decision) steps(v *schedule.VisitView) (second, final bool) {
	lively := d.silentSeasons() == 0
	return lively && (v.Visit.Price >= d.cfg.SmallVisit || guarded(v)), lively || guarded(v)
}

// guarded reports whether the law, a printed day, a finding or somebody's safety
// asks for work of a visit. What a season visit includes in any case is not due
// on its own account.
func guarded(v *schedule.VisitView) bool {
	return slices.ContainsFunc(v.Lines, func(l schedule.Line) bool { return l.Guarded && !l.Included })
}

// stepDue returns the step that the day calls for: the latest that has fallen
// due, if it is still worth taking and neither it nor a later one was taken.
func (d *decision) stepDue(v *schedule.VisitView, day civil.Day) (stepWindow, bool) {
	if v.Visit.Booked() || v.Visit.Day == 0 || d.silenced(&v.Visit, day) || v.Visit.Lapsed && d.remindedOf(v.Visit.BoatID, day-365) {
		return stepWindow{}, false
	}
	windows := d.windows(v)
	for i := len(windows) - 1; i >= 0; i-- {
		if d.notified(v.Visit.ID, windows[i].step) {
			return stepWindow{}, false
		}
		if day >= windows[i].first {
			if windows[i].step == schedule.StepNudge && d.held(v.Visit.ID) {
				return stepWindow{}, false // the final reminder still comes
			}
			if windows[i].step == schedule.StepOverdue && d.surelyReminded(v.Visit.ID) {
				return stepWindow{}, false // for a call
			}
			return windows[i], day <= windows[i].last
		}
	}
	return stepWindow{}, false
}

// reminder gathers everything open into one notice, if a step is due and the
// customer has been left in peace long enough.
func (d *decision) reminder() (Notice, bool) {
	due := d.allowed(d.dueVisits())
	if len(due) == 0 || !d.peaceKept() {
		return Notice{}, false
	}
	due = append(due, d.soonInvited(due)...)
	var visits []NoticeVisit
	var heard []schedule.Notified
	last := d.endOf(due[0].last)
	for _, x := range due {
		if end := d.endOf(x.last); end.Before(last) {
			last = end
		}
		if x.step != "" {
			heard = append(heard, schedule.Notified{Subject: x.visit.Visit.Visit.ID, Step: x.step, Week: x.visit.Visit.Visit.Week})
		}
		if x.visit.Warranty {
			heard = append(heard, schedule.Notified{Subject: warrantySubject(&x.visit.Boat), Step: schedule.StepWarranty})
		}
		visits = append(visits, x.visit)
	}
	visits = append(visits, d.mentioned(visits)...)
	return d.notice(visits, last, heard), true
}

// dueVisit is a visit with a step to take; step is "" where only the warranty
// check is to be told.
type dueVisit struct {
	visit NoticeVisit
	step  schedule.Step
	last  civil.Day
}

// dueVisits finds the visits that call for a step today.
func (d *decision) dueVisits() []dueVisit {
	var due []dueVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		step, ok := d.stepDue(v, d.today)
		warranty := d.warrantyDue(b, v)
		if !ok && !warranty {
			return
		}
		x := dueVisit{visit: d.named(b, v), last: step.last}
		if ok {
			x.step = step.step
			x.visit.Step = step.step
		} else {
			x.visit.Step, x.last = schedule.StepWarranty, b.Boat.WarrantyUntil-1
		}
		if warranty {
			x.visit.Warranty, x.last = true, min(x.last, b.Boat.WarrantyUntil-1)
		}
		due = append(due, x)
	})
	return due
}

// soonInvited finds the visits whose invitation falls due before the gap after
// this mail is over: one mail now is better than two.
func (d *decision) soonInvited(due []dueVisit) []dueVisit {
	var soon []dueVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		for _, x := range due {
			if x.visit.Visit.Visit.ID == v.Visit.ID {
				return
			}
		}
		step, ok := d.stepDue(v, d.today+civil.Day(d.cfg.GapDays))
		if ok && step.step == schedule.StepInvitation && !d.silenced(&v.Visit, d.today) {
			nv := d.named(b, v)
			nv.Step = step.step
			soon = append(soon, dueVisit{nv, step.step, step.last})
		}
	})
	return soon
}

// mentioned finds the visits that the customer was told of, has not answered,
// and that take no step now.
func (d *decision) mentioned(taken []NoticeVisit) []NoticeVisit {
	var again []NoticeVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if v.Visit.Booked() || !d.reminded(v.Visit.ID) || d.silenced(&v.Visit, d.today) {
			return
		}
		if _, to := v.Visit.SpanOn(); to < d.today {
			return
		}
		for i := range taken {
			if taken[i].Visit.Visit.ID == v.Visit.ID {
				return
			}
		}
		again = append(again, d.named(b, v))
	})
	return again
}

// reminded reports whether the customer has had any reminder of a visit.
func (d *decision) reminded(visit string) bool {
	for _, s := range reminderSteps {
		if d.notified(visit, s) {
			return true
		}
	}
	return false
}

// remindedOf reports whether the customer has had a reminder of any visit of a boat
// after a day.
func (d *decision) remindedOf(boat string, after civil.Day) bool {
	return slices.ContainsFunc(d.r.Notified, func(h schedule.Notified) bool {
		return h.On > after && slices.Contains(reminderSteps[:], h.Step) && strings.HasPrefix(h.Subject, boat+".")
	})
}

// surelyReminded reports whether a reminder of a visit has surely arrived.
func (d *decision) surelyReminded(visit string) bool {
	for _, s := range reminderSteps {
		if h, ok := d.newest[noticeKey{visit, s}]; ok && !h.InDoubt {
			return true
		}
	}
	return false
}

// named makes a notice's visit and recalls the week that was named before.
func (d *decision) named(b *schedule.BoatView, v *schedule.VisitView) NoticeVisit {
	nv := NoticeVisit{Boat: b.Boat, Visit: *v}
	var newest civil.Day
	nv.First = true
	for _, s := range reminderSteps {
		h, ok := d.newest[noticeKey{v.Visit.ID, s}]
		nv.First = nv.First && (!ok || h.InDoubt)
		if ok && h.On >= newest {
			newest, nv.NamedWeek = h.On, h.Week
		}
	}
	if nv.NamedWeek == v.Visit.Week {
		nv.NamedWeek = 0
	}
	return nv
}

// peaceKept reports whether the gap since the last mail allows another reminder.
func (d *decision) peaceKept() bool {
	last := d.lastMail()
	return last == 0 || d.today-last >= civil.Day(d.cfg.GapDays)
}

// past is a day that has come, none for one that has not: it was written while
// the clock was ahead, and nothing waits for it.
func (d *decision) past(day civil.Day) civil.Day {
	if day > d.today {
		return 0
	}
	return day
}

// lastMail is the day of the newest mail that counts for the gap. Answers to
// the customer's own doing do not count.
func (d *decision) lastMail() civil.Day {
	var last civil.Day
	answered := false
	for _, h := range d.r.Notified {
		if h.Step == schedule.StepConfirmation || h.Step == schedule.StepCancellation || h.Step == schedule.StepPassedOn {
			answered = answered || h.On == d.r.LastMail
			continue
		}
		last = max(last, d.past(h.On))
	}
	if !answered {
		last = max(last, d.past(d.r.LastMail))
	}
	return last
}
