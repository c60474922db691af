package notify

import (
	"fmt"
	"time"

	"bellbuoy/schedule"
)

// OldAddress returns the email that takes an appointment out of the calendar of an
// address that is no longer the customer's. It names no boat and no day: who reads it
// there is not known.
func OldAddress(r schedule.Recipient, told schedule.Invitation, cfg PolicyConfig, now time.Time) Notice {
	d := newDecision(&r, cfg, now)
	n := d.notice(nil, d.endOf(told.Day), []schedule.Notified{{Subject: addressSubject(told, "old"), Step: schedule.StepNewAddress}})
	n.Customer.Email, n.AtOnce = told.Address, true
	return n
}

// NewAddress returns the email that puts the same day's booked visits into the calendar
// of the new address; false if none of them is booked any more, or no email reaches it.
func NewAddress(r schedule.Recipient, told schedule.Invitation, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	var visits []NoticeVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if bk := v.Visit.Booking; bk != nil && bk.Day == told.Day {
			visits = append(visits, NoticeVisit{Boat: b.Boat, Visit: *v, Step: schedule.StepNewAddress})
		}
	})
	if len(visits) == 0 || !mailable(&r) {
		return Notice{}, false
	}
	n := d.notice(visits, d.endOf(told.Day), []schedule.Notified{{Subject: addressSubject(told, "new"), Step: schedule.StepNewAddress}})
	n.AtOnce = true
	return n, true
}

// addressSubject names one end of an appointment's way from one address to another.
func addressSubject(told schedule.Invitation, end string) string {
	return fmt.Sprintf("%s.%d.%s", told.UID, told.Sequence, end)
}
