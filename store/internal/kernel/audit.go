package kernel

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// Entry is what one change leaves in the audit log. Before and After are
// anything that can be written as JSON, nil where there was nothing.
type Entry struct {
	Actor, What        string
	BoatID, CustomerID string
	Before, After      any
}

// Audit writes an entry in the transaction of the change.
func Audit(ctx context.Context, tx Querier, now time.Time, e Entry) error {
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
