package app

import (
	"context"
	"slices"

	"bellbuoy/schedule"
)

// ExpectedHours is the range in which a reading was expected before it was known,
// and before those after it were: half of all cases lie in it. False for an engine
// whose hours are not forecast.
func (a *App) ExpectedHours(ctx context.Context, boatID string, r schedule.Reading) (low, high schedule.Hours, ok bool, err error) {
	f, err := a.Facts(ctx, boatID)
	if err != nil {
		return 0, 0, false, err
	}
	f.Readings = slices.DeleteFunc(slices.Clone(f.Readings), func(o schedule.Reading) bool { return o.ComponentID == r.ComponentID && o.Day >= r.Day })
	for _, o := range a.Planner.HoursOutlook(&f, r.Day) {
		if o.Component.ID == r.ComponentID && o.LastDay != 0 {
			return o.Low, o.High, true, nil
		}
	}
	return 0, 0, false, nil
}
