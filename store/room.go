package store

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Room is what bears on taking a day for a visit, read in the transaction that
// takes it. Amounts are those of all other visits.
type Room struct {
	Day       civil.Day      // to be taken
	Visit     schedule.Visit // with the booking that it has; without an id if it has left the plan
	Booked    level.Amounts  // booked in the week of the day
	Pencilled level.Amounts  // planned for that week and not booked
	OnDay     map[civil.Day]DayLoad
	Absences  []Absence   // that end in that week or later
	Closed    []ClosedDay // in that week or later
}

// DayLoad is what is booked for a day.
type DayLoad struct {
	Taken level.Amounts
	Hours []int // minutes of the day at which boats are expected, of those with an hour
}

// Fit says why a day cannot be taken, nil if it can. It is asked in the
// transaction that takes the day: between question and booking nobody else
// takes one. A nil Fit takes any day.
type Fit func(*Room) error

func room(ctx context.Context, q kernel.Querier, visitID string, day civil.Day) (*Room, error) {
	r := &Room{Day: day}
	week := day.Week()
	var err error
	r.Visit, err = kernel.One(ctx, q, tables.ReadVisit, "SELECT "+tables.VisitColumns+" FROM visits WHERE id = ?", visitID)
	if _, err = kernel.Found(err); err != nil {
		return nil, err
	}
	if r.Visit.Booking, err = bookingOrNone(ctx, q, visitID); err != nil {
		return nil, err
	}
	if r.OnDay, err = dayLoads(ctx, q, week, visitID); err != nil {
		return nil, err
	}
	for _, d := range r.OnDay {
		r.Booked = r.Booked.Plus(d.Taken)
	}
	r.Pencilled, err = kernel.One(ctx, q, func(c *kernel.Row) level.Amounts { return amounts(c, 0) },
		`SELECT coalesce(sum(v.labour), 0), coalesce(sum(v.yard), 0), coalesce(sum(v.lifts), 0) FROM visits v
		WHERE v.week = ? AND v.id <> ? AND NOT EXISTS (SELECT 1 FROM bookings k WHERE k.visit_id = v.id)`, kernel.WeekArg(week), visitID)
	if err != nil {
		return nil, err
	}
	if r.Absences, err = absences(ctx, q, week.Monday()); err != nil {
		return nil, err
	}
	r.Closed, err = closedDays(ctx, q, week.Monday())
	return r, err
}

// DayLoads returns what is booked for each day of a week beside one visit; days without
// anything are left out.
func (db *Reader) DayLoads(ctx context.Context, week civil.Week, but string) (map[civil.Day]DayLoad, error) {
	loads, err := dayLoads(ctx, db.Read, week, but)
	return loads, kernel.Wrap(err, "read what is booked in the week of %s", week.Monday())
}

func dayLoads(ctx context.Context, q kernel.Querier, week civil.Week, but string) (map[civil.Day]DayLoad, error) {
	loads := make(map[civil.Day]DayLoad)
	_, err := kernel.Collect(ctx, q, func(c *kernel.Row) (none struct{}) {
		d := loads[c.Day(0)]
		d.Taken = d.Taken.Plus(amounts(c, 2))
		if minute := int(c.Int(1)); minute >= 0 {
			d.Hours = append(d.Hours, minute)
		}
		loads[c.Day(0)] = d
		return none
	}, `SELECT k.day, k.minute, v.labour, v.yard, v.lifts FROM bookings k JOIN visits v ON v.id = k.visit_id
		WHERE k.day BETWEEN ? AND ? AND v.id <> ?`, week.Monday().String(), week.Sunday().String(), but)
	return loads, err
}

// OverMinutes returns how many minutes of each week from one to another, both
// included, are booked over its hours on purpose; weeks without any are left
// out.
func (db *Reader) OverMinutes(ctx context.Context, from, to civil.Week) (map[civil.Week]int, error) {
	over := make(map[civil.Week]int)
	_, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) (none struct{}) {
		over[c.Day(0).Week()] += int(c.Int(1))
		return none
	}, "SELECT k.day, v.labour FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.over AND k.day BETWEEN ? AND ?",
		from.Monday().String(), to.Sunday().String())
	return over, kernel.Wrap(err, "read what is booked over the hours of weeks %s to %s", from, to)
}
