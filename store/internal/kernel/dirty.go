package kernel

import (
	"context"
	"fmt"
)

// FactsVersion counts the transactions that have changed facts. Read it before
// the facts and give it to [DB.SavePlans]: a change made in between then stays
// to be planned.
func (db *Reader) FactsVersion(ctx context.Context) (int64, error) {
	return One(ctx, db.Read, FirstInt, "SELECT version FROM facts_version")
}

// DirtyBoats returns the ids of at most limit boats whose facts changed since
// they were planned, those waiting longest first.
func (db *Reader) DirtyBoats(ctx context.Context, limit int) ([]string, error) {
	return Collect(ctx, db.Read, FirstText,
		"SELECT boat_id FROM dirty ORDER BY version, boat_id LIMIT ?", limit)
}

// NextVersion numbers the present transaction as one that changes facts.
func NextVersion(ctx context.Context, tx Querier) (int64, error) {
	return One(ctx, tx, FirstInt,
		"UPDATE facts_version SET version = version + 1 RETURNING version")
}

// MarkDirty has the boats planned again.
func MarkDirty(ctx context.Context, tx Querier, boatIDs ...string) error {
	v, err := NextVersion(ctx, tx)
	if err != nil {
		return err
	}
	for _, id := range boatIDs {
		if err := MarkDirtyAt(ctx, tx, id, v); err != nil {
			return err
		}
	}
	return nil
}

// MarkDirtyAt has a boat planned again for a version; see [NextVersion].
func MarkDirtyAt(ctx context.Context, tx Querier, boatID string, version int64) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO dirty (boat_id, version) VALUES (?, ?)
		ON CONFLICT (boat_id) DO UPDATE SET version = excluded.version`, boatID, version)
	if err != nil {
		return fmt.Errorf("mark boat %q for planning: %w", boatID, err)
	}
	return nil
}
