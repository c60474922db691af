package store

import (
	"context"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store/internal/kernel"
)

// WeekLoad is the work that lies in one shop week.
type WeekLoad struct {
	Week              civil.Week
	Booked, Pencilled level.Amounts
}

// WeekLoads returns the load of each week from one to another, both included,
// that has any; in order of time. Its cost does not grow with the fleet.
func (db *Reader) WeekLoads(ctx context.Context, from, to civil.Week) ([]WeekLoad, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) WeekLoad {
		return WeekLoad{c.Week(0), amounts(c, 1), amounts(c, 4)}
	}, `SELECT week, booked, yard_booked, lifts_booked, pencilled, yard_pencilled, lifts_pencilled FROM week_load
		WHERE week BETWEEN ? AND ? AND (booked <> 0 OR pencilled <> 0 OR yard_booked <> 0 OR yard_pencilled <> 0 OR lifts_booked <> 0 OR lifts_pencilled <> 0)
		ORDER BY week`,
		from.Monday().String(), to.Monday().String())
	return all, kernel.Wrap(err, "read the load of weeks %s to %s", from, to)
}

// amounts reads three columns: minutes of the technicians and of the yard crew,
// and moves of the lift.
func amounts(c *kernel.Row, at int) level.Amounts {
	return level.Amounts{level.Labor: int(c.Int(at)), level.Yard: int(c.Int(at + 1)), level.Lifts: int(c.Int(at + 2))}
}
