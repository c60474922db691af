package store

import "context"

// BoatIDs returns the ids of all boats, rising.
func (db *DB) BoatIDs(ctx context.Context) ([]string, error) {
	ids, err := collect(ctx, db.read, firstText, "SELECT id FROM boats ORDER BY id")
	return ids, wrap(err, "list the boats")
}
