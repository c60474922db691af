package duplicates

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// NotDuplicate is a pair of which somebody knows that it is two.
type NotDuplicate struct {
	Kind  string    `json:"kind"`
	A     string    `json:"a"` // A is the lower id
	B     string    `json:"b"`
	At    time.Time `json:"at"`
	Actor string    `json:"actor"`
}

// SetNotDuplicates writes down that two of a kind are two, so that [Find] leaves
// them out; together takes that back. [ErrNotFound] if there is no such pair.
// The order of the two does not matter.
func SetNotDuplicates(ctx context.Context, db *store.DB, n NotDuplicate, together bool) error {
	kind, a, b := n.Kind, n.A, n.B
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if a == b {
			return fmt.Errorf("they are the same: %w", store.ErrRefused)
		}
		for _, id := range []string{a, b} {
			if err := checkKnown(ctx, tx, kind, id); err != nil {
				return err
			}
		}
		what, statement := "tell apart", "INSERT INTO apart (kind, a, b, at, actor) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING"
		args := []any{kind, min(a, b), max(a, b), n.At.Unix(), n.Actor}
		if together {
			what, statement, args = "tell apart no more", "DELETE FROM apart WHERE kind = ? AND a = ? AND b = ?", args[:3]
		}
		if _, err := tx.ExecContext(ctx, statement, args...); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, n.At, mergeEntry(n.Actor, what, kind, a, b))
	})
	return kernel.Wrap(err, "tell %s %q from %q", kind, a, b)
}

// checkKnown refuses an id of a kind that there is not.
func checkKnown(ctx context.Context, q kernel.Querier, kind, id string) error {
	var err error
	switch kind {
	case KindCustomer:
		_, err = tables.Customer(ctx, q, id)
	case KindBoat:
		_, err = tables.Boat(ctx, q, id)
	default:
		err = fmt.Errorf("kind %q: %w", kind, store.ErrRefused)
	}
	return err
}

// NotDuplicates lists the pairs that were told apart, the latest first.
func NotDuplicates(ctx context.Context, db *store.Reader) ([]NotDuplicate, error) {
	return notDuplicates(ctx, db.Read)
}

func notDuplicates(ctx context.Context, q kernel.Querier) ([]NotDuplicate, error) {
	all, err := kernel.Collect(ctx, q, func(c *kernel.Row) NotDuplicate {
		return NotDuplicate{Kind: c.Text(0), A: c.Text(1), B: c.Text(2), At: c.Instant(3), Actor: c.Text(4)}
	}, "SELECT kind, a, b, at, actor FROM apart ORDER BY at DESC, kind, a, b")
	return all, kernel.Wrap(err, "list who was told apart")
}

// leaveOut takes the pairs out that were told apart.
func leaveOut(ctx context.Context, q kernel.Querier, found []Pair) ([]Pair, error) {
	apart, err := notDuplicates(ctx, q)
	if err != nil || len(apart) == 0 {
		return found, err
	}
	known := make(map[[3]string]bool, len(apart))
	for _, p := range apart {
		known[[3]string{p.Kind, p.A, p.B}] = true
	}
	return slices.DeleteFunc(found, func(t Pair) bool { return known[[3]string{t.Kind, min(t.A, t.B), max(t.A, t.B)}] }), nil
}
