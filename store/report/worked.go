package report

import (
	"context"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Worked is a boat on which the shop has worked lately, with the last day.
type Worked struct {
	BoatID string
	Last   civil.Day
}

// WorkedOn returns the boats, in order, whose last work by the shop since a day
// was done by another.
func WorkedOn(ctx context.Context, db *store.Reader, since, by civil.Day) ([]Worked, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Worked { return Worked{c.Text(0), c.Day(1)} },
		`SELECT boat_id, max(day) AS last FROM records WHERE day >= ? AND done_by = 'shop'
		GROUP BY boat_id HAVING last <= ? ORDER BY boat_id`, since.String(), by.String())
	return all, kernel.Wrap(err, "list the boats worked on")
}
