package kernel

import (
	"context"
	"fmt"
)

// Damage runs SQLite's own checks.
func Damage(ctx context.Context, q Querier) ([]string, error) {
	bad, err := Collect(ctx, q, FirstText, "PRAGMA integrity_check")
	if err != nil {
		return nil, err
	}
	if len(bad) == 1 && bad[0] == "ok" {
		bad = nil
	}
	lost, err := Collect(ctx, q, func(c *Row) string {
		return fmt.Sprintf("a row of %s refers to a row of %s that is not there", c.Text(0), c.Text(2))
	}, "PRAGMA foreign_key_check")
	return append(bad, lost...), err
}
