package store

import (
	"context"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// WeekLoad is the work that lies in one shop week, in minutes.
type WeekLoad struct {
	Week              civil.Week
	Booked, Pencilled int
}

// WeekLoads returns the load of each week from one to another, both included,
// that has any; in order of time. Its cost does not grow with the fleet.
func (db *Reader) WeekLoads(ctx context.Context, from, to civil.Week) ([]WeekLoad, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) WeekLoad {
		return WeekLoad{Week: c.Week(0), Booked: int(c.Int(1)), Pencilled: int(c.Int(2))}
	}, "SELECT week, booked, pencilled FROM week_load WHERE week BETWEEN ? AND ? AND (booked <> 0 OR pencilled <> 0) ORDER BY week",
		from.Monday().String(), to.Monday().String())
	return all, kernel.Wrap(err, "read the load of weeks %s to %s", from, to)
}
