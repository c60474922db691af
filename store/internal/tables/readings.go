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
	old, err := kernel.One(ctx, q, ReadReading, "SELECT "+ReadingColumns+" FROM readings WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?",
		boatID, r.ComponentID, r.Day.String(), int64(r.Hours))
	known, err := kernel.Found(err)
	if err != nil || known && old == r {
		return Unchanged, err
	}
	if known {
		_, err = q.ExecContext(ctx, `UPDATE readings SET new_meter = ?, read_by = ? WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?`,
			kernel.BoolArg(r.NewMeter), r.ReadBy, boatID, r.ComponentID, r.Day.String(), int64(r.Hours))
	} else {
		_, err = q.ExecContext(ctx, `INSERT INTO readings (`+ReadingColumns+`) VALUES (?, ?, ?, ?, ?, ?)`,
			boatID, r.ComponentID, r.Day.String(), kernel.BoolArg(r.NewMeter), int64(r.Hours), r.ReadBy)
	}
	if err != nil {
		return Unchanged, fmt.Errorf("write a reading of %q: %w", r.ComponentID, err)
	}
	return addedOr(known), nil
}
