package notify

import (
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// CallReason says why a customer is called.
type CallReason string

// The reasons for calling.
const (
	CallAsked    CallReason = "asked to be called"
	CallByWish   CallReason = "wants to be called"
	CallNoMail   CallReason = "no email address"
	CallBounced  CallReason = "email address is dead"
	CallNoAnswer CallReason = "no reply to the reminders"
	CallTooLate  CallReason = "too late for an email"
	CallSilent   CallReason = "no reply for seasons"
	CallCapped   CallReason = "has had this year's reminders"
	CallStopped  CallReason = "wants no reminders: call before the freeze?"
	CallDeclined CallReason = "does not want it: one call before the freeze"
)

// Call is one customer on the call list, with the visits to talk about.
type Call struct {
	Customer schedule.Customer
	Visits   []NoticeVisit // each with the step that it has reached; may be none for one who asked to be called
	Reason   CallReason
	Why      string // the reason with its detail, for the desk
}

// CallList returns the call that the customer is due, none if there is none.
// A customer who asked for it on their page is called at once. One whom mail
// cannot reach is called once a visit's invitation falls
// due; one whom it can, when it has said all. Nobody is called who asked not to be
// told. Who stopped the reminders, and who declined a winterization, is called in
// the last days before the freeze, when there is still time.
func CallList(r schedule.Recipient, cfg PolicyConfig, now time.Time) []Call {
	d := newDecision(&r, cfg, now)
	c := Call{Customer: r.Customer}
	if asked, ok := d.callRequest(); ok {
		return []Call{asked}
	}
	switch {
	case r.Customer.ContactBy == "none":
		return nil
	case r.Customer.ContactBy == "phone":
		c.Reason, c.Why = CallByWish, "The customer wants to be called."
	case r.NoMail || r.NoReminders:
		c.Reason, c.Why = CallStopped, "The customer wants no reminders, and the boat is not winterized yet."
	case r.Suppressed != "":
		c.Reason, c.Why = CallBounced, "Email to "+r.Customer.Email+" bounces: "+r.Suppressed
	case r.Customer.Email == "":
		c.Reason, c.Why = CallNoMail, "There is no email address on file."
	default:
		c.Reason, c.Why = d.restsWhy()
		if _, err := CheckMailAddress(r.Customer.Email); err != nil {
			c.Reason, c.Why = CallNoMail, "The email address on file, "+r.Customer.Email+", cannot be right."
		}
	}
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if step, ok := d.callAbout(v, c.Reason); ok {
			nv := d.named(b, v)
			nv.Step = step
			c.Visits = append(c.Visits, nv)
		}
	})
	told := func(v NoticeVisit) bool { return d.surelyReminded(v.Visit.Visit.ID) }
	if c.Reason == CallNoAnswer && !slices.ContainsFunc(c.Visits, told) {
		c.Reason, c.Why = CallTooLate, "It must be booked sooner than an email leaves time for."
	}
	if len(c.Visits) == 0 {
		c.Reason, c.Why, c.Visits = CallDeclined, "Does not want the winterization, and the boat is not winterized yet.", d.declined()
	}
	if len(c.Visits) == 0 {
		return nil
	}
	return []Call{c}
}

// declined are the winterizations that the customer does not want and that must
// be done in the next days.
func (d *decision) declined() []NoticeVisit {
	var all []NoticeVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if d.freezesSoon(v) && !v.Visit.Booked() && slices.ContainsFunc(d.r.Answers, func(a schedule.Answer) bool {
			return a.Kind == schedule.AnswerDecline && a.VisitID == v.Visit.ID
		}) {
			nv := d.named(b, v)
			nv.Step = d.reached(v)
			all = append(all, nv)
		}
	})
	return all
}

// freezesSoon reports whether a visit is a winterization whose last days have
// come.
func (d *decision) freezesSoon(v *schedule.VisitView) bool {
	limit := deadline(&v.Visit)
	return v.Visit.Kind == schedule.LayUp && d.today >= limit-civil.Day(d.cfg.LastCallDays) && d.today <= limit+civil.Day(d.cfg.StaleDays)
}

// restsWhy is why a customer whom mail reaches is called.
func (d *decision) restsWhy() (CallReason, string) {
	switch r := d.rests(); r {
	case CallSilent:
		return r, fmt.Sprintf("No reply, booking or visit in %s with reminders.", words.Count(d.silentSeasons(), "season"))
	case CallCapped:
		return r, fmt.Sprintf("Has had %s this year, the most that one customer gets.", words.Count(d.remindersThisYear(), "reminder"))
	}
	return CallNoAnswer, "The reminders have had no reply."
}

// callAbout reports whether a visit is worth a call, and how far its
// reminding has gone. Whom mail reaches is called where it has said all or comes
// too late; whom it does not, once the first reminder would be due.
func (d *decision) callAbout(v *schedule.VisitView, why CallReason) (schedule.Step, bool) {
	if v.Visit.Booked() || v.Visit.Day == 0 || d.silenced(&v.Visit, d.today) {
		return "", false
	}
	reached := d.reached(v)
	if why == CallStopped {
		return reached, d.freezesSoon(v)
	}
	if v.Visit.Lapsed && (why == CallNoAnswer || why == CallSilent || why == CallCapped) {
		return "", false // it is on the list of lapsed boats
	}
	if why != CallNoAnswer {
		return reached, reached != ""
	}
	for _, s := range []schedule.Step{schedule.StepOverdue, schedule.StepLastCall} {
		h, ok := d.newest[noticeKey{v.Visit.ID, s}]
		if ok && d.today-d.past(h.On) >= civil.Day(d.cfg.NoAnswerDays) {
			return s, true
		}
	}
	// No further email can bring it in time, or none at all could.
	w := d.windows(v)
	return reached, d.today > w[len(w)-2].last && (d.surelyReminded(v.Visit.ID) || d.today <= deadline(&v.Visit))
}

// reached is the last step whose day has come for a visit, taken or not.
func (d *decision) reached(v *schedule.VisitView) schedule.Step {
	var step schedule.Step
	for _, x := range d.windows(v) {
		if d.today >= x.first {
			step = x.step
		}
	}
	return step
}
