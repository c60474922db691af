package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// DayLoad is a day on which the shop works, with what is booked for it.
type DayLoad struct {
	Day             civil.Day
	Minutes, Booked int // what may be planned, and what other visits take of it
	Boats           int
}

// Workdays are the days of a week, from today on, on which somebody works, with
// what is booked for them beside a visit.
func (a *App) Workdays(ctx context.Context, v *schedule.Visit, week civil.Week, today civil.Day) ([]DayLoad, error) {
	days, err := a.workdays(ctx, week, today-1)
	if err != nil {
		return nil, err
	}
	loads := make([]DayLoad, len(days))
	for i, d := range days {
		loads[i] = DayLoad{Day: d.day, Minutes: d.minutes}
	}
	return loads, a.eachBooked(ctx, v, week, func(o *store.VisitRow) {
		for i := range loads {
			if loads[i].Day == o.Visit.Booking.Day {
				loads[i].Booked += o.Visit.Labour
				loads[i].Boats++
			}
		}
	})
}

// NextWorkday is the first day after one on which somebody works, within two
// weeks, else the day after it.
func (a *App) NextWorkday(ctx context.Context, after civil.Day) (civil.Day, error) {
	for w := after.Week(); w < after.Week()+3; w++ {
		days, err := a.workdays(ctx, w, after)
		if err != nil {
			return 0, err
		}
		if len(days) > 0 {
			return days[0].day, nil
		}
	}
	return after + 1, nil
}

// Worker is a technician on a day.
type Worker struct {
	Name    string
	Minutes int // that may be planned; 0 for somebody who is not at work
}

// WorkersOn are the shop's technicians on a day, in the order of the settings.
func (a *App) WorkersOn(ctx context.Context, day civil.Day) ([]Worker, error) {
	c, err := a.constraints(ctx, day, nil, nil)
	if err != nil {
		return nil, err
	}
	closed := slices.Contains(c.closed, day) || a.Config.IsClosed(day)
	all := make([]Worker, len(a.Config.Weeks.Technicians))
	for i := range all {
		t := &a.Config.Weeks.Technicians[i]
		all[i].Name = t.Name
		if !closed {
			all[i].Minutes = int(clocked(t, day, c.away) * a.Config.Weeks.Allowance)
		}
	}
	return all, nil
}

// SetStage says how far a booked visit has come, as [store.DB.SetStage] does. No plan,
// calendar or email follows on it.
func (a *App) SetStage(ctx context.Context, now time.Time, actor, visitID string, was, stage store.Stage) error {
	return a.db.SetStage(ctx, now, actor, visitID, was, stage)
}

// AssignVisit says who does a booked visit: one of the settings' technicians, or ""
// for nobody yet.
func (a *App) AssignVisit(ctx context.Context, now time.Time, actor, visitID, technician string) error {
	known := func(t config.Technician) bool { return t.Name == technician }
	if technician != "" && !slices.ContainsFunc(a.Config.Weeks.Technicians, known) {
		return fmt.Errorf("%q is not among the technicians of the settings: %w", technician, store.ErrRefused)
	}
	return a.db.AssignVisit(ctx, now, actor, visitID, technician)
}

// BookedFor returns the visits that are booked for a day, in order of their hour.
func (a *App) BookedFor(ctx context.Context, day civil.Day) ([]schedule.Visit, error) {
	var visits []schedule.Visit
	err := a.eachBooked(ctx, &schedule.Visit{}, day.Week(), func(o *store.VisitRow) {
		if o.Visit.Booking.Day == day {
			visits = append(visits, o.Visit)
		}
	})
	slices.SortFunc(visits, func(x, y schedule.Visit) int {
		return cmp.Or(cmp.Compare(x.Booking.Minute, y.Booking.Minute), cmp.Compare(x.ID, y.ID))
	})
	return visits, err
}

// doubtDay doubts a booking by its day: nobody works then, another boat comes at
// that hour, or the others leave no hours for it. A shop that has not said who
// works has no days to doubt.
func (a *App) doubtDay(ctx context.Context, v *schedule.Visit, b *schedule.Booking) ([]schedule.Doubt, error) {
	if len(a.Config.Weeks.Technicians) == 0 {
		return nil, nil
	}
	days, err := a.workdays(ctx, b.Day.Week(), b.Day-1)
	if err != nil {
		return nil, err
	}
	if len(days) == 0 || days[0].day != b.Day {
		return []schedule.Doubt{{Code: schedule.DoubtClosed, Field: "day", Words: fmt.Sprintf("Nobody is at work on %s.", a.Config.Format().WeekdayDate(b.Day))}}, nil
	}
	var doubts []schedule.Doubt
	taken := 0
	err = a.eachBooked(ctx, v, b.Day.Week(), func(o *store.VisitRow) {
		if o.Visit.Booking.Day != b.Day {
			return
		}
		taken += o.Visit.Labour
		if m := o.Visit.Booking.Minute; m >= 0 && m == b.Minute {
			doubts = append(doubts, schedule.Doubt{Code: schedule.DoubtClash, Field: "time", Words: fmt.Sprintf("%s is booked for %s on that day too.", o.Boat.Title(), a.Config.Format().Clock(m))})
		}
	})
	if taken > 0 && taken+v.Labour > days[0].minutes {
		doubts = append(doubts, schedule.Doubt{Code: schedule.DoubtFullDay, Field: "day", Words: fmt.Sprintf("%s of the %s h of that day are booked, and this visit needs %s h.",
			a.Config.Format().Labor(taken), a.Config.Format().Labor(days[0].minutes), a.Config.Format().Labor(v.Labour))})
	}
	return doubts, err
}

// eachBooked calls fn with every booked visit of a week but one.
func (a *App) eachBooked(ctx context.Context, but *schedule.Visit, week civil.Week, fn func(*store.VisitRow)) error {
	q := store.VisitQuery{From: week, To: week}
	for {
		page, err := a.DB.Visits(ctx, q)
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
