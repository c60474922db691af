package notify

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// Appointment is a booked day as the customer was told it.
type Appointment struct {
	Day    civil.Day
	Minute int // minute of the day, -1 for the whole day
}

// appointmentSubject names a visit's booked day, so that a visit that is moved
// is confirmed anew: "BOAT.lay-up.2027@2027-10-05T09:00".
func appointmentSubject(b *schedule.Booking) string {
	s := b.VisitID + "@" + b.Day.String()
	if b.Minute >= 0 {
		s += fmt.Sprintf("T%02d:%02d", b.Minute/60, b.Minute%60)
	}
	return s
}

// parseAppointment reads what appointmentSubject wrote.
func parseAppointment(subject string) (visit string, a Appointment, ok bool) {
	at := strings.LastIndexByte(subject, '@')
	if at < 0 {
		return "", a, false
	}
	day, clock, timed := strings.Cut(subject[at+1:], "T")
	d, err := civil.Parse(day)
	if err != nil {
		return "", a, false
	}
	a = Appointment{Day: d, Minute: -1}
	if timed {
		t, err := time.Parse("15:04", clock)
		if err != nil {
			return "", a, false
		}
		a.Minute = t.Hour()*60 + t.Minute()
	}
	return subject[:at], a, true
}

// start is the instant of an appointment; a whole day starts when it begins.
func (a Appointment) start(zone *time.Location) time.Time {
	m := max(a.Minute, 0)
	return a.Day.At(m/60, m%60, zone)
}

// belief is the booked day that the customer was last told for a visit.
type belief struct {
	Appointment
	subject string
	since   civil.Day
}

// believes works out what the customer takes for booked: the newest
// confirmation that was not called off. A day's facts have no order, but need
// none: nobody is told the same twice, so where a booked day was both confirmed
// and called off on one day, the end of the day is as its beginning was.
func (d *decision) believes(visit string) (b belief, ok bool) {
	standing := make(map[string]civil.Day)
	for day := range daysOf(d.inOrder) {
		for subject, told := range appointmentsTold(day, visit) {
			switch {
			case told.confirmed && told.cancelled:
			case told.confirmed:
				standing[subject] = day[0].On
			default:
				delete(standing, subject)
			}
		}
	}
	for subject, since := range standing {
		if !ok || since > b.since || (since == b.since && subject > b.subject) {
			_, a, _ := parseAppointment(subject) // it was read before
			b, ok = belief{a, subject, since}, true
		}
	}
	return b, ok
}

// appointmentTold is what was told of one booked day within one day.
type appointmentTold struct{ confirmed, cancelled bool }

// appointmentsTold gathers what one day's facts say of a visit's booked days.
func appointmentsTold(day []schedule.Heard, visit string) map[string]appointmentTold {
	var all map[string]appointmentTold
	for _, h := range day {
		if h.Step != schedule.StepConfirmation && h.Step != schedule.StepCancellation {
			continue
		}
		if id, _, ok := parseAppointment(h.Subject); !ok || id != visit {
			continue
		}
		if all == nil {
			all = make(map[string]appointmentTold)
		}
		told := all[h.Subject]
		told.confirmed = told.confirmed || h.Step == schedule.StepConfirmation
		told.cancelled = told.cancelled || h.Step == schedule.StepCancellation
		all[h.Subject] = told
	}
	return all
}

// daysOf cuts facts in order of day into days.
func daysOf(facts []schedule.Heard) iter.Seq[[]schedule.Heard] {
	return func(yield func([]schedule.Heard) bool) {
		for len(facts) > 0 {
			n := 1
			for n < len(facts) && facts[n].On == facts[0].On {
				n++
			}
			if !yield(facts[:n]) {
				return
			}
			facts = facts[n:]
		}
	}
}

// booked returns the confirmations, cancellations and booked reminders.
func (d *decision) booked() []Notice {
	var all []Notice
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		told, known := d.believes(v.Visit.ID)
		bk := v.Visit.Booking
		switch {
		case bk == nil && known && d.now.Before(d.lastUse(told.Appointment)):
			n := d.about(b, v, told.subject, schedule.StepCancellation, told.Appointment)
			n.Visits[0].Was = told.Appointment
			all = append(all, n)
		case bk == nil:
		case !d.now.Before(d.lastUse(Appointment{bk.Day, bk.Minute})):
		case !known || told.subject != appointmentSubject(bk):
			n := d.about(b, v, appointmentSubject(bk), schedule.StepConfirmation, Appointment{bk.Day, bk.Minute})
			if known {
				// One mail says both: the old day is off, the new one is on.
				n.Visits[0].Was = told.Appointment
				n.Heard = append(n.Heard, schedule.Heard{CustomerID: d.r.Customer.ID, Subject: told.subject, Step: schedule.StepCancellation, On: d.today})
			}
			all = append(all, n)
		case d.bookedReminderDue(told):
			all = append(all, d.about(b, v, told.subject, schedule.StepBooked, told.Appointment))
		}
	})
	slices.SortStableFunc(all, func(x, y Notice) int { return cmp.Compare(urgency(y.Step), urgency(x.Step)) })
	return all
}

// lastUse is the last instant at which news of an appointment is worth having.
func (d *decision) lastUse(a Appointment) time.Time {
	if a.Minute < 0 {
		return d.endOf(a.Day)
	}
	return a.start(d.cfg.Zone)
}

// bookedReminderDue reports whether a booked day is to be recalled: some
// working days before it, unless its confirmation itself went out so late.
func (d *decision) bookedReminderDue(told belief) bool {
	first := d.cfg.Window.WorkingDaysBefore(told.Day, d.cfg.BookedDays)
	return d.today >= first && told.since < first && !d.told(told.subject, schedule.StepBooked) &&
		d.cfg.Window.Open(d.now.In(d.cfg.Zone))
}

// about makes a notice of one visit's appointment.
func (d *decision) about(b *schedule.BoatView, v *schedule.VisitView, subject string, step schedule.Step, a Appointment) Notice {
	nv := NoticeVisit{Boat: b.Boat, Visit: *v, Step: step}
	n := d.notice([]NoticeVisit{nv}, d.lastUse(a), []schedule.Heard{{Subject: subject, Step: step}})
	if step != schedule.StepBooked {
		// The same day may be booked, called off and booked again.
		n.AtOnce = true
		n.Key += "|" + d.today.String()
	}
	return n
}
