package app

import (
	"context"
	"errors"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

// ErrNoRoom says that a day that a customer wants is none that can be taken.
var ErrNoRoom = errors.New("that day cannot be taken; choose another")

// mostWeeks is how many weeks a customer may choose from.
const mostWeeks = 10

// lateWeeks is how many weeks after the last one in time are looked at when
// none in time has room.
const lateWeeks = 8

// WeeksFor returns the weeks in which a visit may come and that have room for
// it, in order of time. Without any in time, the first ones after it are
// offered: late is better than never.
func (h *App) WeeksFor(ctx context.Context, v *schedule.Visit, today civil.Day) ([]civil.Week, error) {
	j := h.levelJob(v, today+1, nil)
	from, inTime := j.First, max(j.Deadline.Week(), v.Week)
	all, err := h.DB.WeekLoads(ctx, from, inTime+lateWeeks)
	if err != nil {
		return nil, err
	}
	load := make(map[civil.Week]store.WeekLoad, len(all))
	for _, l := range all {
		load[l.Week] = withoutOwn(l, v)
	}
	capacity, err := h.CapacityLeft(ctx, today+1, from, inTime+lateWeeks)
	if err != nil {
		return nil, err
	}
	var weeks []civil.Week
	for _, c := range capacity {
		if len(weeks) == mostWeeks || c.Week > inTime && len(weeks) > 0 {
			break
		}
		if l := load[c.Week]; c.Total()[level.Labor] <= 0 || !hasRoom(v, &c, l.Booked, l.Pencilled) {
			continue
		}
		days, err := h.noticedDays(ctx, c.Week, today)
		if err != nil {
			return nil, err
		}
		if len(days) > 0 {
			weeks = append(weeks, c.Week)
		}
	}
	return weeks, nil
}

// WeekAfter is the first week with room for a visit, in time, that can still be
// booked with the shop's notice by a customer who is asked again on a day; none if
// there is none.
func (h *App) WeekAfter(v *schedule.Visit, weeks []civil.Week, day civil.Day) civil.Week {
	p := h.Policy()
	for _, w := range weeks {
		if last := min(w.Sunday(), v.Deadline); w.Monday() <= v.Deadline && p.Window.WorkingDaysBefore(last, p.LeastNotice) >= day {
			return w
		}
	}
	return 0
}

// keepWeek keeps such a week for a visit whose customer wishes to be asked again.
func (h *App) keepWeek(ctx context.Context, now time.Time, a *schedule.Answer) error {
	plan, err := h.DB.Plan(ctx, a.BoatID)
	if err != nil {
		return err
	}
	for i := range plan.Visits {
		v := &plan.Visits[i]
		if v.ID != a.VisitID || v.Booked() {
			continue
		}
		weeks, err := h.WeeksFor(ctx, v, h.Day(now))
		if err != nil {
			return err
		}
		if v.Week != 0 { // the one that it has, if that will do
			weeks = append([]civil.Week{v.Week}, weeks...)
		}
		if w := h.WeekAfter(v, weeks, a.Until); w != 0 {
			return h.db.Pin(ctx, now, customerActs, v.ID, w)
		}
	}
	return nil
}

// workday is a day on which somebody works, with its minutes.
type workday struct {
	day     civil.Day
	minutes int // what may be planned, after absences and allowance
}

// workdays are the days of a week, after today, on which the shop is open.
func (h *App) workdays(ctx context.Context, week civil.Week, today civil.Day) ([]workday, error) {
	c, err := h.constraints(ctx, week.Monday(), nil, nil)
	return h.workdaysOf(week, today, c), err
}

func (h *App) workdaysOf(week civil.Week, today civil.Day, c constraints) []workday {
	var days []workday
	for d := max(week.Monday(), today+1); d <= week.Sunday(); d++ {
		if slices.Contains(c.closed, d) || h.Config.IsClosed(d) {
			continue
		}
		if n := h.minutesOn(d, c.away); n > 0 {
			days = append(days, workday{d, n})
		}
	}
	return days
}

// minutesOn is what may be planned on an open day.
func (h *App) minutesOn(d civil.Day, away []level.Absence) int {
	minutes := 0.0
	for i := range h.Config.Weeks.Technicians {
		minutes += clocked(&h.Config.Weeks.Technicians[i], d, away)
	}
	return int(minutes * h.Config.Weeks.Allowance)
}

// clocked is how many minutes a technician is at work on an open day.
func clocked(t *config.Technician, d civil.Day, away []level.Absence) float64 {
	gone := slices.ContainsFunc(away, func(a level.Absence) bool {
		return a.Technician == t.Name && a.From <= d && d <= a.To
	})
	if gone {
		return 0
	}
	return t.Hours[int(d-d.Week().Monday())] * 60
}

// Works reports whether anybody is at work on a day.
func (h *App) Works(ctx context.Context, d civil.Day) (bool, error) {
	days, err := h.workdays(ctx, d.Week(), d-1)
	return slices.ContainsFunc(days, func(w workday) bool { return w.day == d }), err
}

// noticedDays are the days of a week that the shop works and for which a customer who
// books today leaves it its least notice.
func (h *App) noticedDays(ctx context.Context, week civil.Week, today civil.Day) ([]workday, error) {
	days, err := h.workdays(ctx, week, today)
	p := h.Policy()
	return slices.DeleteFunc(days, func(d workday) bool { return p.Window.WorkingDaysBefore(d.day, p.LeastNotice) < today }), err
}

// DaysFor returns the days of a week, with the shop's least notice, on which a visit may
// come: the days up to its deadline if that lies in the week, of those the ones
// whose booked work leaves room for it, or if none does those with
// the least, since the week has the room.
func (h *App) DaysFor(ctx context.Context, v *schedule.Visit, week civil.Week, today civil.Day) ([]civil.Day, error) {
	days, err := h.noticedDays(ctx, week, today)
	if err != nil {
		return nil, err
	}
	booked, err := h.bookedOn(ctx, v, week)
	if err != nil {
		return nil, err
	}
	return daysWithRoom(daysInTime(days, v), booked, v.Labour), nil
}

// daysInTime leaves out the days after a visit's deadline where there are days
// before it. The deadline of a booked visit is the booked day and says nothing.
func daysInTime(days []workday, v *schedule.Visit) []workday {
	if n := slices.IndexFunc(days, func(d workday) bool { return d.day > v.Deadline }); n > 0 && !v.Booked() {
		return days[:n]
	}
	return days
}

func daysWithRoom(days []workday, booked map[civil.Day]int, labour int) []civil.Day {
	if len(days) == 0 {
		return nil
	}
	var room, least []civil.Day
	fewest := booked[days[0].day]
	for _, d := range days {
		n := booked[d.day]
		if n == 0 || n+labour <= d.minutes {
			room = append(room, d.day)
		}
		if n < fewest {
			fewest, least = n, nil
		}
		if n == fewest {
			least = append(least, d.day)
		}
	}
	if len(room) > 0 {
		return room
	}
	return least
}

// bookedOn adds up the minutes that are booked on each day of a week, without
// the visit's own.
func (h *App) bookedOn(ctx context.Context, v *schedule.Visit, week civil.Week) (map[civil.Day]int, error) {
	minutes := make(map[civil.Day]int)
	err := h.eachBooked(ctx, v, week, func(o *store.VisitRow) { minutes[o.Visit.Booking.Day] += o.Visit.Labour })
	return minutes, err
}

// eachBooked calls fn with every booked visit of a week but one.
func (h *App) eachBooked(ctx context.Context, but *schedule.Visit, week civil.Week, fn func(*store.VisitRow)) error {
	q := store.VisitQuery{From: week, To: week}
	for {
		page, err := h.DB.Visits(ctx, q)
		if err != nil || len(page) == 0 {
			return err
		}
		for i := range page {
			if o := &page[i].Visit; o.Booked() && o.ID != but.ID {
				fn(&page[i])
			}
		}
		q.After = page[len(page)-1].Key
	}
}

// Take books a day that a customer takes for a visit. It returns a [*FullWeek]
// or a [*FullDay] if somebody else was faster, [ErrNoRoom] for a day that was
// never offered, [store.ErrStale] if the visit is no longer booked as it was.
func (h *App) Take(ctx context.Context, now time.Time, a schedule.Answer, v *schedule.Visit, day civil.Day, was *string) (schedule.Answer, error) {
	today := h.Day(now)
	weeks, err := h.WeeksFor(ctx, v, today)
	if err != nil {
		return a, err
	}
	a.Kind, a.BoatID, a.VisitID = schedule.AnswerTake, v.BoatID, v.ID
	return h.Reply(ctx, now, store.NewAnswer{
		Answer: a, Was: was,
		Booking: &schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: day, Minute: -1},
		Fit: func(r *store.Room) error {
			if err := h.customerFits(r, today); err != nil {
				return err
			}
			if !slices.Contains(weeks, day.Week()) {
				return ErrNoRoom
			}
			return nil
		},
	})
}

// customerActs is the name under which the customers' own doing stands in the
// audit log, beside the customer's id.
const customerActs = "customer"

// Reply writes down what a customer answered, and does what follows.
func (h *App) Reply(ctx context.Context, now time.Time, n store.NewAnswer) (a schedule.Answer, err error) {
	_, err = h.change(ctx, now, n.BoatID, func() (err error) {
		if a, err = h.db.SaveAnswer(ctx, now, customerActs, n); err == nil && a.Kind == schedule.AnswerLater {
			err = h.keepWeek(ctx, now, &a)
		}
		return err
	})
	return a, err
}

// UndoReply undoes an answer of a customer, and what followed from it.
func (h *App) UndoReply(ctx context.Context, now time.Time, customerID string, id int64) (a schedule.Answer, err error) {
	was, err := h.DB.Answer(ctx, now, h.Day(now), customerID, id)
	if err != nil {
		return a, err
	}
	_, err = h.change(ctx, now, was.BoatID, func() (err error) {
		a, err = h.db.UndoAnswer(ctx, now, h.Day(now), customerActs, customerID, id, h.hoursFit(false))
		if err == nil && a.Kind == schedule.AnswerLater {
			// A visit that is gone or booked meanwhile keeps no week by hand.
			if err = h.db.Pin(ctx, now, customerActs, a.VisitID, 0); errors.Is(err, store.ErrNotFound) || errors.Is(err, store.ErrStale) {
				err = nil
			}
		}
		return err
	})
	return a, err
}
