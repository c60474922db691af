package store

import (
	"context"

	"bellbuoy/store/internal/kernel"
)

// BoatIDs returns the ids of all boats, rising.
func (db *Reader) BoatIDs(ctx context.Context) ([]string, error) {
	ids, err := kernel.Collect(ctx, db.Read, kernel.FirstText, "SELECT id FROM boats ORDER BY id")
	return ids, kernel.Wrap(err, "list the boats")
}
