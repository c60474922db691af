package store

import (
	"context"
	"database/sql"
	"fmt"
)

// FactsVersion counts the transactions that have changed facts. Read it before
// the facts and give it to [DB.SavePlans]: a change made in between then stays
// to be planned.
func (db *core) FactsVersion(ctx context.Context) (int64, error) {
	return one(ctx, db.read, firstInt, "SELECT version FROM facts_version")
}

// DirtyBoats returns the ids of at most limit boats whose facts changed since
// they were planned, those waiting longest first.
func (db *core) DirtyBoats(ctx context.Context, limit int) ([]string, error) {
	return collect(ctx, db.read, firstText,
		"SELECT boat_id FROM dirty ORDER BY version, boat_id LIMIT ?", limit)
}

// MarkAllDirty has every boat planned anew, for a change that concerns all:
// the rules, a place's season, the program itself.
func (db *core) MarkAllDirty(ctx context.Context) error {
	return db.tx(ctx, func(tx *sql.Tx) error {
		v, err := nextVersion(ctx, tx)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO dirty (boat_id, version) SELECT id, ? FROM boats WHERE true
			ON CONFLICT (boat_id) DO UPDATE SET version = excluded.version`, v)
		return err
	})
}

// nextVersion numbers the present transaction as one that changes facts.
func nextVersion(ctx context.Context, tx querier) (int64, error) {
	return one(ctx, tx, firstInt,
		"UPDATE facts_version SET version = version + 1 RETURNING version")
}

// markDirty has the boats planned anew.
func markDirty(ctx context.Context, tx querier, boatIDs ...string) error {
	v, err := nextVersion(ctx, tx)
	if err != nil {
		return err
	}
	for _, id := range boatIDs {
		if err := markDirtyAt(ctx, tx, id, v); err != nil {
			return err
		}
	}
	return nil
}

func markDirtyAt(ctx context.Context, tx querier, boatID string, version int64) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO dirty (boat_id, version) VALUES (?, ?)
		ON CONFLICT (boat_id) DO UPDATE SET version = excluded.version`, boatID, version)
	if err != nil {
		return fmt.Errorf("mark boat %q for planning: %w", boatID, err)
	}
	return nil
}
