package notify

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// warrantySubject is what a warranty check's mail is about.
func warrantySubject(b *schedule.Boat) string {
	return b.ID + ".warranty." + b.WarrantyUntil.String()
}

// warrantyDue reports whether the visit carries the look at the boat before
// the sale's engine warranty runs out, and that end is near and untold.
func (d *decision) warrantyDue(b *schedule.BoatView, v *schedule.VisitView) bool {
	end := b.Boat.WarrantyUntil
	if end == 0 || v.Visit.Booked() || d.today >= end || d.today < end-civil.Day(d.cfg.WarrantyDays) ||
		d.silenced(&v.Visit, d.today) || d.notified(warrantySubject(&b.Boat), schedule.StepWarranty) {
		return false
	}
	for i := range v.Lines {
		if it := &v.Lines[i].Item; it.Basis == schedule.BasisExpiry && it.ByDate == end {
			return true
		}
	}
	return false
}

// hours returns the request for meter readings, if an hours limit comes near
// whose day is known too badly, and if no mail has gone out lately.
func (d *decision) hours() (Notice, bool) {
	if !d.peaceKept() || d.rests() != "" {
		return Notice{}, false
	}
	var asks []MeterAsk
	var heard []schedule.Notified
	until := d.today
	for i := range d.r.Boats {
		b := &d.r.Boats[i]
		if b.Boat.Gone != 0 && b.Boat.Gone <= d.today || d.sold(b.Boat.ID) || !running(&b.Place, d.today) {
			continue
		}
		lines := d.vague(b)
		n, newest := d.asked(b.Boat.ID)
		if len(lines) == 0 || n >= d.cfg.HoursPerYear || (newest != 0 && d.today-newest < hoursAskRest) {
			continue
		}
		asks = append(asks, MeterAsk{Boat: b.Boat, Lines: lines})
		heard = append(heard, schedule.Notified{Subject: fmt.Sprintf("%s.hours.%d.%d", b.Boat.ID, d.today.Year(), n+1), Step: schedule.StepHours})
		until = max(until, lines[0].Item.Due)
	}
	if len(asks) == 0 {
		return Notice{}, false
	}
	n := d.notice(nil, d.endOf(until), heard)
	n.Readings = asks
	return n, true
}

// hoursAskRest is how many days pass between two requests about one boat.
const hoursAskRest = 42

// vague returns the boat's jobs, but for those that another one includes in any
// case, that hang on an hours limit near by whose day
// is not known to within the time that an invitation needs.
func (d *decision) vague(b *schedule.BoatView) []schedule.Line {
	var lines []schedule.Line
	take := func(all []schedule.Line) {
		for i := range all {
			it := &all[i].Item
			if it.Basis == schedule.BasisHours && !it.ByCustomer && !all[i].Included && it.HoursLate-it.Due > civil.Day(d.cfg.InvitationDays) &&
				it.Due >= d.today && it.Due-d.today <= civil.Day(d.cfg.HoursAheadDays) {
				lines = append(lines, all[i])
			}
		}
	}
	for i := range b.Visits {
		if !b.Visits[i].Visit.Booked() {
			take(b.Visits[i].Lines)
		}
	}
	take(b.Loose)
	return lines
}

// asked counts this year's requests about a boat and gives the newest's day.
func (d *decision) asked(boat string) (n int, newest civil.Day) {
	prefix := fmt.Sprintf("%s.hours.%d.", boat, d.today.Year())
	for _, h := range d.r.Notified {
		if h.Step == schedule.StepHours && strings.HasPrefix(h.Subject, prefix) {
			n++
			newest = max(newest, d.past(h.On))
		}
	}
	return n, newest
}

// running reports whether boats at the place are afloat on the day: a meter
// does not move in winter.
func running(p *schedule.Place, day civil.Day) bool {
	if !p.Freezes() || p.Launch.IsZero() {
		return true
	}
	return day >= p.LaunchDay(day.Year()) && day <= p.LayUpDay(day.Year())
}

// Welcome returns the mail after a sale: what comes when, and why. It goes out
// at once and only to customers who want mail. It confirms what is booked, so
// that no second mail has to.
func Welcome(r schedule.Recipient, boatID string, cfg PolicyConfig, now time.Time) (Notice, bool) {
	n, ok := planNotice(r, boatID, schedule.StepWelcome, schedule.WelcomeSubject(boatID), nil, cfg, now)
	if !ok {
		return n, false
	}
	n.nameLanguage()
	d := newDecision(&r, cfg, now)
	for i := range n.Boats[0].Visits {
		v := &n.Boats[0].Visits[i].Visit
		if told := d.believes(v.ID); v.Booked() && !told.booked {
			subject := appointmentSubject(v.ID, Appointment{v.Booking.Day, v.Booking.Minute}, told.n+1)
			n.Notified = append(n.Notified, schedule.Notified{CustomerID: r.Customer.ID, Subject: subject, Step: schedule.StepConfirmation, On: d.today})
		}
	}
	return n, true
}

// Sister is the shop that a boat came from, with its owner's consent.
type Sister struct {
	Shop   string
	Booked []civil.Day // the days that were booked there and are no longer
}

// Received returns the email of the shop that took a boat over from a sister shop, once
// for a transfer: also to one who wants no reminders.
func Received(r schedule.Recipient, boatID, transfer string, from Sister, cfg PolicyConfig, now time.Time) (Notice, bool) {
	n, ok := planNotice(r, boatID, schedule.StepWelcome, boatID+".transfer."+transfer, nil, cfg, now)
	n.From = from
	return n, ok
}

// Summary returns the mail after a visit that ended on a day: what was done, what
// was not done this time, and what comes next. What is left of the visit itself
// is no visit to come.
func Summary(r schedule.Recipient, boatID string, last civil.Day, done []DoneWork, cfg PolicyConfig, now time.Time) (Notice, bool) {
	if len(done) == 0 || r.NoReminders {
		return Notice{}, false
	}
	n, ok := planNotice(r, boatID, schedule.StepSummary, boatID+"."+last.String()+summarySubject, done, cfg, now)
	if !ok {
		return n, false
	}
	n.nameLanguage()
	b := n.Boats[0]
	b.Visits = slices.Clone(b.Visits)
	b.Visits = slices.DeleteFunc(b.Visits, func(v schedule.VisitView) bool {
		if from, _ := v.Visit.SpanOn(); from > last {
			return false
		}
		for i := range v.Lines {
			if l := &v.Lines[i]; !l.Item.ByCustomer {
				n.Left = append(n.Left, l.Title)
			}
		}
		return true
	})
	n.Boats = []schedule.BoatView{b}
	return n, true
}

// summarySubject ends what a summary is about, after the boat and the last day of the work.
const summarySubject = ".summary"

// ParseSummary reads what a summary was about.
func ParseSummary(subject string) (boatID string, last civil.Day, ok bool) {
	s, ok := strings.CutSuffix(subject, summarySubject)
	i := strings.LastIndexByte(s, '.')
	if !ok || i < 0 {
		return "", 0, false
	}
	last, err := civil.Parse(s[i+1:])
	return s[:i], last, err == nil
}

// planNotice makes a notice about one boat's whole plan.
func planNotice(r schedule.Recipient, boatID string, step schedule.Step, subject string, done []DoneWork, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	if !mailable(&r) || d.notified(subject, step) || d.sold(boatID) {
		return Notice{}, false
	}
	for i := range r.Boats {
		if r.Boats[i].Boat.ID == boatID {
			n := d.notice(nil, d.endOf(d.today+planNoticeDays), []schedule.Notified{{Subject: subject, Step: step}})
			n.Boats, n.Done, n.AtOnce = r.Boats[i:i+1:i+1], done, true
			return n, true
		}
	}
	return Notice{}, false
}

// planNoticeDays is how long a welcome or a summary is worth reading.
const planNoticeDays = 14

// Page returns the email with the address of a customer's page and all that is
// planned, for one who asked the desk for it: once a day, and also to one who
// wants no reminders.
func Page(r schedule.Recipient, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	subject := r.Customer.ID + ".page." + d.today.String()
	boats := slices.DeleteFunc(slices.Clone(r.Boats), func(b schedule.BoatView) bool {
		return b.Boat.Gone != 0 && b.Boat.Gone <= d.today || d.sold(b.Boat.ID)
	})
	if len(boats) == 0 || !mailable(&r) || d.notified(subject, schedule.StepPage) {
		return Notice{}, false
	}
	n := d.notice(nil, d.endOf(d.today+planNoticeDays), []schedule.Notified{{Subject: subject, Step: schedule.StepPage}})
	n.Boats, n.AtOnce = boats, true
	return n, true
}

// Correction returns the email that sets right what another told of a boat, once
// for each such email, also to one who wants no reminders. It goes on with the
// plan if the boat is theirs.
func Correction(r schedule.Recipient, boat schedule.Boat, told Told, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	subject := boat.ID + ".correction." + told.Day.String() + "." + told.Subject
	if !mailable(&r) || d.notified(subject, schedule.StepCorrection) {
		return Notice{}, false
	}
	n := d.notice(nil, d.endOf(d.today+planNoticeDays), []schedule.Notified{{Subject: subject, Step: schedule.StepCorrection}})
	n.Corrects, n.AtOnce = told, true
	n.Corrects.Boat = boat
	for i := range r.Boats {
		if r.Boats[i].Boat.ID == boat.ID && !d.sold(boat.ID) {
			n.Boats = r.Boats[i : i+1 : i+1]
		}
	}
	return n, true
}
