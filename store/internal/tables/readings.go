package tables

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// PutReading writes a reading down and says whether that changed anything. The
// meter of a known reading may turn out to be a new one.
func PutReading(ctx context.Context, q kernel.Querier, boatID string, r schedule.Reading) (Change, error) {
	added, err := kernel.Affected(q.ExecContext(ctx, `INSERT INTO readings (`+ReadingColumns+`) SELECT ?1, ?2, ?3, ?4, ?5, ?6
		WHERE NOT EXISTS (SELECT 1 FROM readings WHERE boat_id = ?1 AND component_id = ?2 AND day = ?3 AND hours = ?5)`,
		boatID, r.ComponentID, r.Day.String(), kernel.BoolArg(r.NewMeter), int64(r.Hours), r.ReadBy))
	if err != nil {
		return Unchanged, fmt.Errorf("write a reading of %q: %w", r.ComponentID, err)
	}
	if added == 1 {
		return Added, nil
	}
	old, err := kernel.One(ctx, q, ReadReading, "SELECT "+ReadingColumns+" FROM readings WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?",
		boatID, r.ComponentID, r.Day.String(), int64(r.Hours))
	if err != nil || old == r {
		return Unchanged, err
	}
	_, err = q.ExecContext(ctx, `UPDATE readings SET new_meter = ?, read_by = ? WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?`,
		kernel.BoolArg(r.NewMeter), r.ReadBy, boatID, r.ComponentID, r.Day.String(), int64(r.Hours))
	if err != nil {
		return Unchanged, fmt.Errorf("write a reading of %q: %w", r.ComponentID, err)
	}
	return Changed, nil
}
