package notify

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
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

// appointmentSubject names the nth thing that was told of a visit's booked
// day: "BOAT.lay-up.2027@2027-10-05T09:00#2". The number puts what was told in
// order for good, however often a visit is booked, moved and called off in a
// day, and makes each telling a letter of its own.
func appointmentSubject(visit string, a Appointment, n int) string {
	s := visit + "@" + a.Day.String()
	if a.Minute >= 0 {
		s += fmt.Sprintf("T%02d:%02d", a.Minute/60, a.Minute%60)
	}
	return s + "#" + strconv.Itoa(n)
}

// parseAppointment reads what appointmentSubject wrote, and nothing else: the same
// appointment written in two ways would be called off twice.
func parseAppointment(subject string) (visit string, a Appointment, n int, ok bool) {
	at, hash := strings.LastIndexByte(subject, '@'), strings.LastIndexByte(subject, '#')
	if at < 0 || hash < at {
		return "", a, 0, false
	}
	n, err := strconv.Atoi(subject[hash+1:])
	if err != nil {
		return "", a, 0, false
	}
	day, clock, timed := strings.Cut(subject[at+1:hash], "T")
	a.Minute = -1
	if a.Day, err = civil.Parse(day); err != nil {
		return "", a, 0, false
	}
	if timed {
		t, err := time.Parse("15:04", clock)
		if err != nil {
			return "", a, 0, false
		}
		a.Minute = t.Hour()*60 + t.Minute()
	}
	return subject[:at], a, n, appointmentSubject(subject[:at], a, n) == subject
}

// start is the instant of an appointment; a whole day starts when it begins.
func (a Appointment) start(zone *time.Location) time.Time {
	m := max(a.Minute, 0)
	return a.Day.At(m/60, m%60, zone)
}

// belief is what the customer was last told of a visit's booked day.
type belief struct {
	Appointment
	booked bool // it stands; else it was called off, or nothing was told
	n      int  // the number of that telling, 0 for none
	since  civil.Day
}

// believes works out what the customer takes for booked: the last telling.
func (d *decision) believes(visit string) belief {
	var last belief
	for _, h := range d.r.Notified {
		if h.Step != schedule.StepConfirmation && h.Step != schedule.StepCancellation && h.Step != schedule.StepPassedOn {
			continue
		}
		id, a, n, ok := parseAppointment(h.Subject)
		if ok && id == visit && n > last.n {
			last = belief{a, h.Step == schedule.StepConfirmation, n, h.On}
		}
	}
	return last
}

// booked returns the confirmations, cancellations and booked reminders: one for
// each day of which there is something to tell, whatever boats it is about.
func (d *decision) booked() []Notice {
	var news []bookedNews
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if n, ok := d.bookedNews(b, v); ok {
			news = append(news, n)
		}
	})
	d.eachBoat(func(b *schedule.BoatView) {
		for i := range b.Dropped {
			if n, ok := d.bookedNews(b, &b.Dropped[i]); ok {
				news = append(news, n)
			}
		}
	})
	slices.SortStableFunc(news, func(x, y bookedNews) int {
		return cmp.Or(cmp.Compare(urgency(y.visit.Step), urgency(x.visit.Step)), cmp.Compare(x.Day, y.Day))
	})
	var all []Notice
	for len(news) > 0 {
		same := 1
		for same < len(news) && news[same].visit.Step == news[0].visit.Step && news[same].Day == news[0].Day {
			same++
		}
		all = append(all, d.aboutDay(news[:same]))
		news = news[same:]
	}
	return all
}

// bookedNews is what a customer does not know yet of one visit's booked day.
type bookedNews struct {
	Appointment // that the news is about: the booked one, or the one called off
	n           int
	visit       NoticeVisit
}

// bookedNews compares a visit's booked day with what its customer takes for
// booked; false if there is nothing to tell now.
func (d *decision) bookedNews(b *schedule.BoatView, v *schedule.VisitView) (bookedNews, bool) {
	told := d.believes(v.Visit.ID)
	news := bookedNews{Appointment: told.Appointment, n: told.n + 1, visit: NoticeVisit{Boat: b.Boat, Visit: *v, Step: schedule.StepConfirmation}}
	if told.booked {
		news.visit.Was = told.Appointment
	}
	if v.Visit.Booking == nil {
		news.visit.Step = schedule.StepCancellation
		news.visit.Change, news.visit.Reason = d.calledOff(&v.Visit)
		return news, told.booked && d.now.Before(d.lastUse(told.Appointment))
	}
	news.Appointment = Appointment{v.Visit.Booking.Day, v.Visit.Booking.Minute}
	switch {
	case !d.now.Before(d.lastUse(news.Appointment)):
		return news, false
	case !told.booked || told.Appointment != news.Appointment:
		if told.booked {
			news.visit.Change, news.visit.Reason = d.moved(&v.Visit, told.Appointment), v.Visit.Booking.Reason
		}
		return news, true
	}
	news.n, news.visit.Step, news.visit.Was = told.n, schedule.StepBooked, Appointment{}
	return news, !v.Visit.NothingLeft() && d.bookedReminderDue(v.Visit.ID, told) // nobody is asked to come for nothing
}

// moved says on whose wish a visit has another day or hour than was told.
func (d *decision) moved(v *schedule.Visit, was Appointment) Change {
	switch {
	case v.Booking.Day == was.Day:
		return HourSet
	case v.Booking.Reason != "":
		return ByShop
	case slices.ContainsFunc(d.r.Answers, func(a schedule.Answer) bool {
		return a.Kind == schedule.AnswerTake && a.VisitID == v.ID && strings.HasPrefix(a.Booked, v.Booking.Day.String())
	}):
		return ByCustomer
	}
	return Agreed
}

// calledOff says on whose wish a visit is no longer booked.
func (d *decision) calledOff(v *schedule.Visit) (by Change, reason string) {
	for _, off := range d.r.CalledOff {
		switch {
		case off.VisitID != v.ID:
		case off.ByShop:
			return ByShop, off.Reason
		default:
			return ByCustomer, ""
		}
	}
	for i := range d.r.Answers {
		if a := &d.r.Answers[i]; a.VisitID == v.ID {
			switch a.Kind {
			case schedule.AnswerDecline:
				return Declined, ""
			case schedule.AnswerCancel, schedule.AnswerLater:
				return ByCustomer, ""
			}
		}
	}
	return Agreed, ""
}

// aboutDay makes one notice of the news about one day.
func (d *decision) aboutDay(news []bookedNews) Notice {
	var visits []NoticeVisit
	var notified []schedule.Notified
	until := d.lastUse(news[0].Appointment)
	for i := range news {
		x := &news[i]
		visits = append(visits, x.visit)
		notified = append(notified, schedule.Notified{Subject: appointmentSubject(x.visit.Visit.Visit.ID, x.Appointment, x.n), Step: x.visit.Step})
		if end := d.lastUse(x.Appointment); end.Before(until) {
			until = end
		}
	}
	n := d.notice(visits, until, notified)
	n.AtOnce = news[0].visit.Step != schedule.StepBooked
	// What is in no plan cannot stand otherwise when the email goes out.
	d.eachBoat(func(b *schedule.BoatView) {
		for i := range b.Dropped {
			n.Names = slices.DeleteFunc(n.Names, func(x schedule.Named) bool { return x.ID == b.Dropped[i].Visit.ID })
		}
	})
	return n
}

// TakenForBooked returns the ids of the visits of which a customer was told, last, that
// they are booked for a day from today on.
func TakenForBooked(r *schedule.Recipient, today civil.Day) []string {
	d := decision{r: r}
	var ids []string
	for _, h := range r.Notified {
		id, a, n, ok := parseAppointment(h.Subject)
		if h.Step != schedule.StepConfirmation || !ok || a.Day < today {
			continue
		}
		if last := d.believes(id); last.booked && last.n == n {
			ids = append(ids, id)
		}
	}
	return ids
}

// PassedOn returns the mail to the earlier owner of a boat that had visits
// booked from a day on: they are no longer theirs, whether the new owner keeps
// the days or not. r is as it was before the boat changed hands.
func PassedOn(r schedule.Recipient, boatID string, from civil.Day, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	var visits []NoticeVisit
	d.eachVisit(func(b *schedule.BoatView, v *schedule.VisitView) {
		if bk := v.Visit.Booking; b.Boat.ID == boatID && bk != nil && bk.Day >= from {
			visits = append(visits, NoticeVisit{Boat: b.Boat, Visit: *v, Step: schedule.StepPassedOn, Was: Appointment{bk.Day, bk.Minute}})
		}
	})
	return d.passedOn(visits)
}

// passedOn makes the notice of [PassedOn] of visits whose day has not passed.
func (d *decision) passedOn(visits []NoticeVisit) (Notice, bool) {
	visits = slices.DeleteFunc(visits, func(v NoticeVisit) bool { return !d.now.Before(d.lastUse(v.Was)) })
	if len(visits) == 0 || !mailable(d.r) {
		return Notice{}, false
	}
	var heard []schedule.Notified
	until := d.now
	for i := range visits {
		v := &visits[i]
		until = d.lastUse(v.Was)
		subject := appointmentSubject(v.Visit.Visit.ID, v.Was, d.believes(v.Visit.Visit.ID).n+1)
		heard = append(heard, schedule.Notified{Subject: subject, Step: schedule.StepPassedOn})
	}
	n := d.notice(visits, until, heard)
	n.AtOnce = true
	n.Names = n.Names[:1] // the address; the visits are no longer theirs when it goes out
	n.nameLanguage()
	return n, true
}

// PassedOnAgain is an email of [PassedOn] or [SentOn] once more, from its subjects: what it
// told of is in no plan any more. title names a kind of visit, sister is as for SentOn, ""
// for none.
func PassedOnAgain(r schedule.Recipient, b schedule.Boat, subjects []string, sister string, title func(kind string) string, cfg PolicyConfig, now time.Time) (Notice, bool) {
	d := newDecision(&r, cfg, now)
	var visits []NoticeVisit
	for _, s := range subjects {
		id, was, _, ok := parseAppointment(s)
		if !ok || d.notified(s, schedule.StepPassedOn) {
			continue
		}
		_, kind := schedule.ParseVisitID(id)
		v := NoticeVisit{Boat: b, Step: schedule.StepPassedOn, Was: was,
			Visit: schedule.VisitView{Title: title(kind), Visit: schedule.Visit{ID: id, BoatID: b.ID, Kind: kind, Day: was.Day}}}
		if sister != "" {
			v.Change, v.Reason = BySister, sister
		}
		visits = append(visits, v)
	}
	return d.passedOn(visits)
}

// SentOn is [PassedOn] for an owner who keeps the boat and goes to a sister shop with it,
// as they agreed.
func SentOn(r schedule.Recipient, boatID, sister string, from civil.Day, cfg PolicyConfig, now time.Time) (Notice, bool) {
	n, ok := PassedOn(r, boatID, from, cfg, now)
	for i := range n.Visits {
		n.Visits[i].Change, n.Visits[i].Reason = BySister, sister
	}
	return n, ok
}

// lastUse is the last instant at which news of an appointment is worth having.
func (d *decision) lastUse(a Appointment) time.Time {
	if a.Minute < 0 {
		return d.endOf(a.Day)
	}
	return a.start(d.cfg.Zone)
}

// bookedReminderDue reports whether a booked day is to be reminded of: some
// working days before it, unless its confirmation itself went out so late.
func (d *decision) bookedReminderDue(visit string, told belief) bool {
	first := d.cfg.Window.WorkingDaysBefore(told.Day, d.cfg.BookedDays)
	return d.today >= first && d.past(told.since) < first &&
		!d.notified(appointmentSubject(visit, told.Appointment, told.n), schedule.StepBooked) &&
		d.cfg.Window.Open(d.now.In(d.cfg.Zone))
}
