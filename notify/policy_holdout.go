package notify

import (
	"slices"

	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
)

// AssignHoldouts tells which of a customer's nudges that are due now are to be held
// back and which go out. The caller keeps the draws and gives them to [Decide]
// with the customer's other facts. A nudge is drawn once; what is drawn stays,
// whatever the shop sets later.
//
// Customers are assigned by season and not by visit, because one mail carries all of a
// customer's boats. Only nudges are ever held back, never an invitation, a last
// call or an overdue mail; and only where nothing can be harmed by it: no
// lay-up, for the freeze is its deadline, no check before a warranty ends, no
// visit with work that law, a printed day, a finding or safety asks for, and
// none of which the customer has not heard at all.
func AssignHoldouts(r schedule.Recipient, cfg PolicyConfig, now time.Time) []schedule.Holdout {
	if cfg.HoldOutPercent <= 0 || !mailable(&r) {
		return nil
	}
	d := newDecision(&r, cfg, now)
	due := d.allowed(d.dueVisits())
	if len(due) == 0 || !d.mayRemind(d.booked()) || !d.peaceKept() {
		return nil
	}
	held := cfg.Assignment(r.Customer.ID, returns.SeasonOf(d.today)) < float64(cfg.HoldOutPercent)/100
	var draws []schedule.Holdout
	for i := range due {
		v := &due[i].visit
		if due[i].step == schedule.StepNudge && d.mayHold(v) {
			draws = append(draws, schedule.Holdout{
				CustomerID: r.Customer.ID, BoatID: v.Boat.ID, VisitID: v.Visit.Visit.ID, On: d.today, Held: held, Percent: cfg.HoldOutPercent,
			})
		}
	}
	return draws
}

// mayHold reports whether a visit's nudge is one to draw lots for.
func (d *decision) mayHold(v *NoticeVisit) bool {
	id := v.Visit.Visit.ID
	drawn := slices.ContainsFunc(d.r.Holdouts, func(w schedule.Holdout) bool { return w.VisitID == id })
	return v.Visit.Visit.Kind != schedule.LayUp && !v.Warranty && !guarded(&v.Visit) && d.reminded(id) && !drawn
}

// held reports whether the nudge of a visit is held back.
func (d *decision) held(visit string) bool {
	return slices.ContainsFunc(d.r.Holdouts, func(w schedule.Holdout) bool { return w.VisitID == visit && w.Held })
}
