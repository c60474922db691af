package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/tables"
)

// Customer returns one customer; [ErrNotFound] if there is no such id.
func (db *Reader) Customer(ctx context.Context, id string) (schedule.Customer, error) {
	c, err := tables.Customer(ctx, db.Read, id)
	if err != nil {
		return c, fmt.Errorf("read customer %q: %w", id, err)
	}
	return c, nil
}
