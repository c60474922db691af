package notify

import (
	"fmt"
	"time"

	"bellbuoy/schedule"
)

// NewLink returns the email that carries the link to a customer's page after the
// one before was replaced; generation tells the links apart. It goes out at once,
// to whoever wants no reminders too: without it the customer could not answer
// any more.
func NewLink(r schedule.Recipient, generation int, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	subject := NewLinkSubject(r.Customer.ID, generation)
	if !mailable(&r) || d.notified(subject, schedule.StepNewLink) {
		return Notice{}, false
	}
	n := d.notice(nil, d.endOf(d.today+planNoticeDays), []schedule.Notified{{Subject: subject, Step: schedule.StepNewLink}})
	n.AtOnce = true
	return n, true
}

// NewLinkSubject is what the email about a new link is about.
func NewLinkSubject(customerID string, generation int) string {
	return fmt.Sprintf("%s.link.%d", customerID, generation)
}
