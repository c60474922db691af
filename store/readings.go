package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// fallingMeters pairs each reading of a metered component that is lower than
// the one before it on the same meter with that one.
const fallingMeters = `SELECT component_id, before_day, before_hours, day, hours FROM (
	SELECT component_id, day, hours, new_meter,
		lag(day) OVER meter AS before_day, lag(hours) OVER meter AS before_hours
	FROM readings WHERE component_id IN (SELECT component_id FROM temp.metered)
	WINDOW meter AS (PARTITION BY boat_id, component_id ORDER BY day, new_meter, hours)
) WHERE new_meter = 0 AND hours < before_hours ORDER BY component_id, day`

func fallingMeter(before, after schedule.Reading) string {
	return fmt.Sprintf("the meter of %q showed %s h on %s and %s h on %s", after.ComponentID, before.Hours, before.Day, after.Hours, after.Day)
}

// readingKey is what makes two lines speak of the same reading.
func readingKey(r schedule.Reading) []string {
	return []string{"reading", r.ComponentID, r.Day.String(), r.Hours.String()}
}

// putReading writes a reading down and says whether that changed anything. The
// meter of a known reading may turn out to be a new one.
func putReading(ctx context.Context, q kernel.Querier, boatID string, r schedule.Reading) (change, error) {
	old, err := kernel.One(ctx, q, readReading, "SELECT "+readingColumns+" FROM readings WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?",
		boatID, r.ComponentID, r.Day.String(), int64(r.Hours))
	known, err := kernel.Found(err)
	if err != nil || known && old == r {
		return unchanged, err
	}
	if known {
		_, err = q.ExecContext(ctx, `UPDATE readings SET new_meter = ?, read_by = ? WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?`,
			kernel.BoolArg(r.NewMeter), r.ReadBy, boatID, r.ComponentID, r.Day.String(), int64(r.Hours))
	} else {
		_, err = q.ExecContext(ctx, `INSERT INTO readings (`+readingColumns+`) VALUES (?, ?, ?, ?, ?, ?)`,
			boatID, r.ComponentID, r.Day.String(), kernel.BoolArg(r.NewMeter), int64(r.Hours), r.ReadBy)
	}
	if err != nil {
		return unchanged, fmt.Errorf("write a reading of %q: %w", r.ComponentID, err)
	}
	return addedOr(known), nil
}
