package app

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

// constraints are what the desk has set about the shop's weeks beside the settings:
// time off, closed days, and visits whose week it chose itself.
type constraints struct {
	away   []level.Absence
	closed []civil.Day
	pins   map[string]civil.Week
	// keepTold: a freeze brings deadlines forward. It moves nobody later who was
	// told a week.
	keepTold bool
	// declined are the visits that their owners do not want.
	declined map[string]bool
}

// constraints reads what bears on these boats and visits; nil means all.
func (a *App) constraints(ctx context.Context, from civil.Day, boatIDs, visitIDs []string) (constraints, error) {
	away, err := a.DB.Absences(ctx, from)
	if err != nil {
		return constraints{}, err
	}
	closed, err := a.DB.ClosedDays(ctx, from)
	if err != nil {
		return constraints{}, err
	}
	c := constraintsOf(away, closed)
	if c.pins, err = a.DB.Pins(ctx, visitIDs); err != nil {
		return c, err
	}
	if c.keepTold, err = a.freezeBrings(ctx, from); err != nil {
		return c, err
	}
	c.declined, err = a.DB.DeclinedVisits(ctx, boatIDs)
	return c, err
}

// constraintsOf is time off and closed days without anything about visits.
func constraintsOf(away []store.Absence, closed []store.ClosedDay) (c constraints) {
	for _, a := range away {
		c.away = append(c.away, level.Absence{Technician: a.Technician, From: a.From, To: a.To})
	}
	for _, d := range closed {
		c.closed = append(c.closed, d.Day)
	}
	return c
}

// Capacity is what the shop can sell in each week from one to another, both
// included, after holidays, closed days and time off, as if none of them had
// begun.
func (a *App) Capacity(ctx context.Context, from, to civil.Week) ([]level.Capacity, error) {
	c, err := a.constraints(ctx, from.Monday(), nil, nil)
	return a.Config.Capacity(from, to, 0, c.closed, c.away), err
}

// CapacityLeft is the same on a day: the running week has the hours of the days
// that are left in it, today among them, less the work that is recorded on those.
// Work recorded earlier in the week took the hours of its own day.
func (a *App) CapacityLeft(ctx context.Context, today civil.Day, from, to civil.Week) ([]level.Capacity, error) {
	c, err := a.constraints(ctx, from.Monday(), nil, nil)
	if err != nil {
		return nil, err
	}
	return a.capacityLeft(ctx, today, from, to, &c)
}

func (a *App) capacityLeft(ctx context.Context, today civil.Day, from, to civil.Week, c *constraints) ([]level.Capacity, error) {
	weeks := a.Config.Capacity(from, to, today, c.closed, c.away)
	i := int(today.Week() - from)
	if i < 0 || i >= len(weeks) {
		return weeks, nil
	}
	took, err := a.workTook(ctx, today, today.Week().Sunday())
	if err != nil {
		return nil, err
	}
	for day, n := range took {
		left := &weeks[i].Days[day-today.Week().Monday()]
		for r := range left {
			left[r] = max(0, left[r]-n[r])
		}
	}
	return weeks, nil
}

// pin takes a visit's hours out of the week that the desk chose for it, as a
// booking does, and reports whether it did. A week that is past binds nobody.
func (c *constraints) pin(v *schedule.Visit, weeks []level.Capacity) (civil.Week, bool) {
	w, ok := c.fixed(v)
	if !ok || len(weeks) == 0 || w < weeks[0].Week || w > weeks[len(weeks)-1].Week {
		return 0, false
	}
	sunday := &weeks[w-weeks[0].Week].Booked[6] // any day of it will do
	*sunday = sunday.Plus(v.Needs())
	return w, true
}

// fixed is the week that a visit keeps: the desk's choice for it, or while a
// freeze brings deadlines forward the one that its customer was told, if that is
// in time.
func (c *constraints) fixed(v *schedule.Visit) (civil.Week, bool) {
	if w, ok := c.pins[v.ID]; ok {
		return w, true
	}
	return v.Week, c.keepTold && v.Told && v.Week != 0 && v.Week <= v.Deadline.Week()
}
