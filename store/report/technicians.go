package report

import (
	"context"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Assignment is a booked visit that was given to a technician.
type Assignment struct {
	BoatID     string
	Day        civil.Day // booked
	Technician string
}

// Assignments returns them all, in order of boat and day.
func Assignments(ctx context.Context, db *store.Reader) ([]Assignment, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Assignment { return Assignment{c.Text(0), c.Day(1), c.Text(2)} },
		`SELECT k.boat_id, k.day, s.technician FROM stages s JOIN bookings k ON k.visit_id = s.visit_id
		WHERE s.technician <> '' ORDER BY k.boat_id, k.day, k.visit_id`)
	return all, kernel.Wrap(err, "list who did which visit")
}

// NoShow is a booked day that passed without the boat: the planner took the booking
// off again.
type NoShow struct {
	BoatID string
	Day    civil.Day
	Kind   string // of visit
}

// NoShows returns those of the days from one to another, both included, in order of
// day and boat. They are known from the change history: the booking itself is gone.
func NoShows(ctx context.Context, db *store.Reader, from, to civil.Day) ([]NoShow, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) NoShow { return NoShow{c.Text(0), c.Day(1), c.Text(2)} },
		`SELECT boat_id, before ->> 'Day' AS day, before ->> 'Kind' FROM audit WHERE actor = 'bellbuoy' AND what = 'cancel a booking'
		AND day BETWEEN ?1 AND ?2 ORDER BY day, boat_id, id`, from.String(), to.String())
	return all, kernel.Wrap(err, "list who did not come from %s to %s", from, to)
}
