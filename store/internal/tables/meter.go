package tables

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// CheckMeter refuses a reading that is lower than an earlier one or higher than
// a later one of the same meter. A meter begins with a reading marked as new.
func CheckMeter(ctx context.Context, q kernel.Querier, boatID string, r schedule.Reading) error {
	all, err := kernel.Collect(ctx, q, ReadReading,
		"SELECT "+ReadingColumns+" FROM readings WHERE boat_id = ? AND component_id = ? ORDER BY day, new_meter, hours", boatID, r.ComponentID)
	if err != nil {
		return err
	}
	before, after := neighbours(all, r)
	switch {
	case before != nil && !r.NewMeter && r.Hours < before.Hours:
		return fmt.Errorf("%s h on %s is below %s h read on %s; correct the figure, or say that the meter is new: %w",
			r.Hours, r.Day, before.Hours, before.Day, kernel.ErrRefused)
	case after != nil && r.Hours > after.Hours:
		return fmt.Errorf("%s h on %s is above %s h read later, on %s; correct the figure or the day: %w",
			r.Hours, r.Day, after.Hours, after.Day, kernel.ErrRefused)
	}
	return nil
}

// neighbours returns the readings of the same meter just before and just after
// r, nil where there is none. The readings are in order.
func neighbours(all []schedule.Reading, r schedule.Reading) (before, after *schedule.Reading) {
	for i := range all {
		o := &all[i]
		if o.Day < r.Day || o.Day == r.Day && o.NewMeter {
			before = o
			continue
		}
		if o.Day > r.Day {
			if !o.NewMeter {
				after = o
			}
			break
		}
	}
	return before, after
}
