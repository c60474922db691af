package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/tables"
)

// Boat returns one boat; [ErrNotFound] if there is no such id.
func (db *Reader) Boat(ctx context.Context, id string) (schedule.Boat, error) {
	b, err := tables.Boat(ctx, db.Read, id)
	if err != nil {
		return b, fmt.Errorf("read boat %q: %w", id, err)
	}
	return b, nil
}
