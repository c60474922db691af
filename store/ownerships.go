package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/tables"
)

// Ownerships returns the owners of a boat, the present one last.
func (db *Reader) Ownerships(ctx context.Context, boatID string) ([]schedule.Ownership, error) {
	all, err := tables.Ownerships(ctx, db.Read, boatID)
	if err != nil {
		return nil, fmt.Errorf("owners of boat %q: %w", boatID, err)
	}
	out := make([]schedule.Ownership, len(all))
	for i, o := range all {
		out[i] = schedule.Ownership{BoatID: boatID, CustomerID: o.Customer, From: o.From, To: o.To}
	}
	return out, nil
}
