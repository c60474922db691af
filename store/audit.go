package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// entry is what one change leaves in the audit log. Before and After are
// anything that can be written as JSON, nil where there was nothing.
type entry struct {
	Actor, What        string
	BoatID, CustomerID string
	Before, After      any
}

// audit writes an entry in the transaction of the change.
func audit(ctx context.Context, tx querier, now time.Time, e entry) error {
	before, err := jsonArg(e.Before)
	if err != nil {
		return fmt.Errorf("audit %s: %w", e.What, err)
	}
	after, err := jsonArg(e.After)
	if err != nil {
		return fmt.Errorf("audit %s: %w", e.What, err)
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO audit (at, actor, what, boat_id, customer_id, before, after) VALUES (?, ?, ?, ?, ?, ?, ?)",
		now.Unix(), e.Actor, e.What, e.BoatID, e.CustomerID, before, after)
	if err != nil {
		return fmt.Errorf("audit %s: %w", e.What, err)
	}
	return nil
}

func jsonArg(v any) (any, error) {
	if v == nil {
		return nil, nil
	}
	b, err := json.Marshal(v)
	return string(b), err
}
