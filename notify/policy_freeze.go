package notify

import (
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// FreezeAlert is a freeze as one customer is to hear of it.
type FreezeAlert struct {
	Subject string // names the freeze: an owner hears once of each
	Freeze  schedule.Freeze
	Boats   []FreezeBoat // the customer's boats at risk, the first to freeze first
}

// FreezeBoat is one boat at risk.
type FreezeBoat struct {
	Boat  schedule.Boat
	Visit *schedule.Visit // its winterization, nil if none is planned
}

// By is the last day on which something can be done.
func (a *FreezeAlert) By() civil.Day { return a.Freeze.Night - 1 }

// FreezeRules say when freeze emails may leave and how many one owner gets.
type FreezeRules struct {
	From, Until int // minutes of the day by the shop's clock, on any day
	MostASeason int
}

// FreezeWay is how a customer hears of a freeze.
type FreezeWay string

// The ways.
const (
	FreezeByMail   FreezeWay = "email"
	FreezeByCall   FreezeWay = "call"
	FreezeNotified FreezeWay = "heard"  // of this freeze, on that day
	FreezeEnough   FreezeWay = "enough" // has heard of as many this season as one is to
)

// FreezeTelling says how a customer hears of a freeze, and why so.
type FreezeTelling struct {
	Way FreezeWay
	Why string    // for [FreezeByCall], in words
	On  civil.Day // for [FreezeNotified]
}

// TellOfFreeze says how a customer is to hear of a freeze: by email, whatever the
// steps, the gap and the daily limit say, or, where email does not reach or is
// not wanted, by a call.
func TellOfFreeze(r *schedule.Recipient, a *FreezeAlert, rules FreezeRules) FreezeTelling {
	season, heard := schedule.LayUpSeason(a.Freeze.Night), map[string]bool{}
	for _, n := range r.Notified {
		if n.Step != schedule.StepFreeze {
			continue
		}
		if n.Subject == a.Subject {
			return FreezeTelling{Way: FreezeNotified, On: n.On}
		}
		if schedule.LayUpSeason(n.On) == season {
			heard[n.Subject] = true
		}
	}
	if len(heard) >= rules.MostASeason {
		return FreezeTelling{Way: FreezeEnough}
	}
	if mailable(r) && !r.NoReminders {
		return FreezeTelling{Way: FreezeByMail}
	}
	return FreezeTelling{Way: FreezeByCall, Why: whyCalled(r)}
}

// whyCalled says why a customer does not hear of a freeze by email.
func whyCalled(r *schedule.Recipient) string {
	switch {
	case r.Customer.ContactBy == "phone":
		return "wants to be called"
	case r.NoMail || r.Customer.ContactBy == "none":
		return "wants no email"
	case r.NoReminders:
		return "stopped the reminders"
	case r.Suppressed != "":
		return fmt.Sprintf("email to %s comes back", r.Customer.Email)
	case r.Customer.Email == "":
		return "no email address on file"
	}
	return fmt.Sprintf("the email address on file, %s, cannot be right", r.Customer.Email)
}

// FreezeNotice is the email about a freeze, false outside its hours, after the
// freeze has begun, or for a customer who does not hear of it by email.
func FreezeNotice(r schedule.Recipient, a FreezeAlert, rules FreezeRules, cfg PolicyConfig, now time.Time) (Notice, bool) {
	local := now.In(cfg.Zone)
	minute := local.Hour()*60 + local.Minute()
	begins := a.Freeze.Night.At(0, 0, cfg.Zone)
	if minute < rules.From || minute >= rules.Until || !now.Before(begins) || TellOfFreeze(&r, &a, rules).Way != FreezeByMail {
		return Notice{}, false
	}
	d := newDecision(&r, cfg, now)
	a.Boats = slices.DeleteFunc(slices.Clone(a.Boats), func(b FreezeBoat) bool { return d.sold(b.Boat.ID) })
	if len(a.Boats) == 0 {
		return Notice{}, false
	}
	n := d.notice(nil, begins.Add(-time.Second), []schedule.Notified{{Subject: a.Subject, Step: schedule.StepFreeze}})
	n.AtOnce, n.Freeze = true, &a
	// Once a boat is winterized, sold or booked, the email is not true any more.
	n.Names = append(n.Names, schedule.Named{Standing: r.Customer.Email + " " + r.Customer.ContactBy})
	for _, b := range a.Boats {
		if b.Visit != nil {
			n.Names = append(n.Names, schedule.Named{ID: b.Visit.ID, Standing: b.Visit.Standing(d.newestReply(b.Visit))})
		}
	}
	return n, true
}
