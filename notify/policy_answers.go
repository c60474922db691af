package notify

import (
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// silenced reports whether an answer of the customer lets a visit rest on a day. A
// request for a call does so for a while only: a call that nobody makes must not
// leave the customer with nobody writing either.
func (d *decision) silenced(v *schedule.Visit, day civil.Day) bool {
	for i := range d.r.Answers {
		a := &d.r.Answers[i]
		if a.Kind == schedule.AnswerCall && day >= civil.FromTime(a.At.In(d.cfg.Zone))+civil.Day(d.cfg.CallWaitDays) {
			continue
		}
		// Work recorded since may have brought the deadline forward: who said later on
		// their page hears while a day in time can still be booked.
		if a.Kind == schedule.AnswerLater && !a.Seen && a.Until > d.cfg.Window.WorkingDaysBefore(deadline(v), d.cfg.Notice(v)) {
			continue
		}
		if a.Mutes(v, day) {
			return true
		}
	}
	return false
}

// askedAgain is the email on the day from which a customer wished to be asked
// again. It was asked for, so it waits for no gap and counts towards no cap; a
// step of the visit that falls on the day goes with it.
func (d *decision) askedAgain() (Notice, bool) {
	var visits []NoticeVisit
	var notified []schedule.Notified
	until := d.endOf(d.today + askedAgainDays)
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		day := d.askAgainFrom(&v.Visit)
		subject := v.Visit.ID + ".later." + day.String()
		if day == 0 || d.today < day || d.today > day+askedAgainDays || v.Visit.Booked() || d.silenced(&v.Visit, d.today) || d.notified(subject, schedule.StepAsked) {
			return
		}
		nv := d.named(b, v)
		nv.Step = schedule.StepAsked
		visits = append(visits, nv)
		notified = append(notified, schedule.Notified{Subject: subject, Step: schedule.StepAsked})
		if step, ok := d.stepDue(v, d.today); ok {
			notified = append(notified, schedule.Notified{Subject: v.Visit.ID, Step: step.step, Week: v.Visit.Week})
		}
	})
	if len(visits) == 0 {
		return Notice{}, false
	}
	return d.notice(visits, until, notified), true
}

// askedAgainDays is for how many days after the promised one the email is still
// worth sending, where sending was off or the customer was in touch.
const askedAgainDays = 7

// askAgainFrom is the day from which the customer wishes to be asked about a visit
// again, none if he wishes no such thing.
func (d *decision) askAgainFrom(v *schedule.Visit) civil.Day {
	for i := range d.r.Answers {
		if a := &d.r.Answers[i]; a.Kind == schedule.AnswerLater && a.VisitID == v.ID {
			return a.Until
		}
	}
	return 0
}

// newestReply is the number of the newest reply of the customer that bears on a
// visit, 0 for none.
func (d *decision) newestReply(v *schedule.Visit) (id int64) {
	for i := range d.r.Answers {
		a := &d.r.Answers[i]
		if a.VisitID == v.ID || a.VisitID == "" && (a.BoatID == "" || a.BoatID == v.BoatID) {
			id = max(id, a.ID)
		}
	}
	return id
}

// sold reports whether the customer said that the boat is no longer theirs.
// Nothing about it is told to them, not even a booked day, while the desk has
// not looked at it.
func (d *decision) sold(boatID string) bool {
	for i := range d.r.Answers {
		if a := &d.r.Answers[i]; a.Kind == schedule.AnswerSold && !a.Seen && a.BoatID == boatID {
			return true
		}
	}
	return false
}

// callRequest makes the call of a customer who asked for it and whose request is
// not settled yet, with the visits that it is about.
func (d *decision) callRequest() (Call, bool) {
	c := Call{Customer: d.r.Customer, Reason: CallAsked}
	var why []string
	for i := range d.r.Answers {
		a := &d.r.Answers[i]
		if a.Kind != schedule.AnswerCall || a.Seen {
			continue
		}
		s := "Asked on " + d.cfg.Format.Date(civil.FromTime(a.At.In(d.cfg.Zone))) + " to be called"
		if a.Note != "" {
			s += ": “" + words.OneLine(a.Note) + "”"
		}
		if !strings.HasSuffix(s, ".”") && !strings.HasSuffix(s, "!”") && !strings.HasSuffix(s, "?”") {
			s += "." // the customer's own full stop is enough
		}
		why = append(why, s)
		c.Visits = append(c.Visits, d.meant(a)...)
	}
	c.Why = strings.Join(why, " ")
	return c, len(why) > 0
}

// meant are the visits that an answer is about.
func (d *decision) meant(a *schedule.Answer) []NoticeVisit {
	var all []NoticeVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if v.Visit.ID == a.VisitID {
			nv := d.named(b, v)
			nv.Step = d.reached(v)
			all = append(all, nv)
		}
	})
	return all
}
