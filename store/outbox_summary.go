package store

import (
	"context"

	"bellbuoy/schedule/civil"
)

// Worked is a boat on which the shop has worked lately, with the last day.
type Worked struct {
	BoatID string
	Last   civil.Day
}

// WorkedOn returns the boats, in order, whose last work by the shop since a day
// was done by another.
func (db *DB) WorkedOn(ctx context.Context, since, by civil.Day) ([]Worked, error) {
	all, err := collect(ctx, db.read, func(c *cells) Worked { return Worked{c.text(0), c.day(1)} },
		`SELECT boat_id, max(day) AS last FROM records WHERE day >= ? AND done_by = 'shop'
		GROUP BY boat_id HAVING last <= ? ORDER BY boat_id`, since.String(), by.String())
	return all, wrap(err, "list the boats worked on")
}
