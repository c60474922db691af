package notify

import (
	"bellbuoy/schedule"
)

// Renewal is a paper of a boat that its owner renews, and the line that says by
// when.
type Renewal struct {
	Boat schedule.Boat
	Line schedule.Line
}

// renewals returns the reminder of the papers that the law asks for and the owner
// renews, a registration for one: no visit carries them, so nothing else tells of
// them. It comes once for each last day, as soon as renewing is sensible.
func (d *decision) renewals() (Notice, bool) {
	if !d.peaceKept() || d.rests() != "" {
		return Notice{}, false
	}
	var due []Renewal
	var notified []schedule.Notified
	until := d.today
	for i := range d.r.Boats {
		b := &d.r.Boats[i]
		if b.Boat.Gone != 0 && b.Boat.Gone <= d.today || d.sold(b.Boat.ID) {
			continue
		}
		for j := range b.Loose {
			it := &b.Loose[j].Item
			subject := b.Boat.ID + "." + it.Service + "." + it.Due.String()
			if !it.ByCustomer || it.Basis != schedule.BasisExpiry || it.Service != "registration" || it.Open > d.today || it.Due < d.today ||
				d.notified(subject, schedule.StepRenewal) {
				continue
			}
			due = append(due, Renewal{b.Boat, b.Loose[j]})
			notified = append(notified, schedule.Notified{Subject: subject, Step: schedule.StepRenewal})
			until = max(until, it.Due)
		}
	}
	if len(due) == 0 {
		return Notice{}, false
	}
	n := d.notice(nil, d.endOf(until), notified)
	n.Renewals = due
	return n, true
}
