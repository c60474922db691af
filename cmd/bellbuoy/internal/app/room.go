package app

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// FullWeek says that a week has no hours left for a visit, or the yard no hours or
// lifts.
type FullWeek struct {
	Week civil.Week
	// What the week has, what other visits take of it, and what this one needs.
	Capacity, Taken, Needs level.Amounts

	format words.Format // of the sentence
}

func (f *FullWeek) Error() string {
	if f.Capacity[level.Labor] == 0 {
		return fmt.Sprintf("the week of %s has no hours: the shop is closed", f.format.Date(f.Week.Monday()))
	}
	week := f.format.Date(f.Week.Monday())
	has, taken, needs := f.Capacity, f.Taken, f.Needs
	short := func(r level.Resource) bool { return needs[r] > 0 && taken[r]+needs[r] > has[r] }
	switch {
	case short(level.Labor):
	case short(level.Yard):
		return fmt.Sprintf("the yard is full in the week of %s: %s of %s h are taken, and this visit needs %s h",
			week, f.format.Labor(taken[level.Yard]), f.format.Labor(has[level.Yard]), f.format.Labor(needs[level.Yard]))
	case short(level.Lifts):
		return fmt.Sprintf("the lift is full in the week of %s: %d of %d hauls and launches are taken", week, taken[level.Lifts], has[level.Lifts])
	}
	return fmt.Sprintf("the week of %s is full: %s of %s h are taken, and this visit needs %s h",
		week, f.format.Labor(taken[level.Labor]), f.format.Labor(has[level.Labor]), f.format.Labor(needs[level.Labor]))
}

// FullDay says that a day has no hours left for a visit, while its week has.
type FullDay struct {
	Day    civil.Day
	format words.Format
}

func (f *FullDay) Error() string {
	return fmt.Sprintf("%s is full; its week has other days", f.format.Date(f.Day))
}

// TakenHour says that nobody can drop off a boat at an hour of a day any more.
type TakenHour struct {
	Day    civil.Day
	Minute int // of the day
	format words.Format
}

func (f *TakenHour) Error() string {
	return fmt.Sprintf("%s at %s is taken", f.format.Date(f.Day), f.format.Clock(f.Minute))
}

// ShortNotice says that a day comes too soon for the shop.
type ShortNotice struct {
	Day    civil.Day
	Notice int // working days that the shop needs
	format words.Format
}

func (f *ShortNotice) Error() string {
	return fmt.Sprintf("%s comes too soon; the shop needs %d working days", f.format.Date(f.Day), f.Notice)
}

// keptWeek is the week whose hours are kept for a visit, none if there is none.
func keptWeek(v *schedule.Visit) civil.Week {
	if v.Booked() {
		return v.Booking.Day.Week()
	}
	return v.Week
}

// withoutOwn is a week's load without that of a visit itself.
func withoutOwn(l store.WeekLoad, v *schedule.Visit) store.WeekLoad {
	switch {
	case l.Week != keptWeek(v):
	case v.Booked():
		l.Booked = l.Booked.Less(v.Needs())
	default:
		l.Pencilled = l.Pencilled.Less(v.Needs())
	}
	return l
}

// hasRoom reports whether a customer may take a week for a visit, beside what
// is booked and pencilled there for others. What is only pencilled for others
// yields to the visit whose own week it is, and a visit that is booked in the
// week already takes no more of it by moving.
func hasRoom(v *schedule.Visit, w *level.Capacity, booked, pencilled level.Amounts) bool {
	has := serving(v, w)
	if w.Week != keptWeek(v) {
		return has.Less(booked).Less(pencilled).Covers(v.Needs())
	}
	return v.Booked() || has.Less(booked).Covers(v.Needs())
}

// serving is what of a week serves a visit: in the week of its deadline what it
// has until then, as long as there are any hours.
func serving(v *schedule.Visit, w *level.Capacity) level.Amounts {
	if until := w.Through(v.Deadline); until[level.Labor] > 0 && !v.Booked() {
		return until
	}
	return w.Total()
}

// capacityOf is what the week of a day can hold from a day on, by what the
// transaction read; 0 for the whole week.
func (a *App) capacityOf(r *store.Room, from civil.Day) *level.Capacity {
	c := constraintsOf(r.Absences, r.Closed)
	return &a.Config.Capacity(r.Day.Week(), r.Day.Week(), from, c.closed, c.away)[0]
}

// hoursFit asks whether the hours of a week are enough for a visit. What is only
// pencilled there yields, and a visit that is booked in the week already may
// move within it unless over says that the week is meant to be overbooked. A
// shop that has not said who works has no hours to count.
func (a *App) hoursFit(over bool) store.Fit {
	return func(r *store.Room) error {
		v, w := &r.Visit, a.capacityOf(r, 0)
		has := w.Total()
		switch {
		case has.Less(r.Booked).Covers(v.Needs()), len(a.Config.Weeks.Technicians) == 0:
			return nil
		case !over && v.Booked() && w.Week == keptWeek(v):
			return nil
		}
		return &FullWeek{w.Week, has, r.Booked, v.Needs(), a.Config.Format()}
	}
}

// checkWeeks words which weeks from today's on are booked beyond their hours
// without anybody having meant it.
func (a *App) checkWeeks(ctx context.Context, today civil.Day) ([]string, error) {
	if len(a.Config.Weeks.Technicians) == 0 {
		return nil, nil
	}
	first, last := today.Week(), today.Week()+weeksAhead
	capacity, err := a.Capacity(ctx, first, last)
	if err != nil {
		return nil, err
	}
	loads, err := a.DB.WeekLoads(ctx, first, last)
	if err != nil {
		return nil, err
	}
	over, err := a.DB.OverMinutes(ctx, first, last)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, l := range loads {
		if has, booked := capacity[l.Week-first].Total()[level.Labor], l.Booked[level.Labor]; booked-over[l.Week] > has {
			out = append(out, fmt.Sprintf("week of %s: %s h are booked and the shop has %s h; move a visit to another week, or book it again with --over if that is meant",
				a.Config.Format().Date(l.Week.Monday()), a.Config.Format().Labor(booked), a.Config.Format().Labor(has)))
		}
	}
	return out, nil
}
