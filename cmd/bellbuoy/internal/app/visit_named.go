package app

import (
	"context"
	"strings"

	"bellbuoy/schedule"
)

// NamedVisit is a visit with its boat, as people speak of it.
type NamedVisit struct {
	schedule.Visit
	Boat schedule.Boat
}

// String is the visit in words: "Perch Pressure, spring commissioning".
func (n NamedVisit) String() string {
	return n.Boat.Title() + ", " + strings.ToLower(schedule.VisitTitle(n.Kind))
}

// Named finds the boats of some visits, in the order given.
func (a *App) Named(ctx context.Context, visits []schedule.Visit) ([]NamedVisit, error) {
	boats := make(map[string]schedule.Boat)
	out := make([]NamedVisit, 0, len(visits))
	for _, v := range visits {
		b, ok := boats[v.BoatID]
		if !ok {
			var err error
			if b, err = a.DB.Boat(ctx, v.BoatID); err != nil {
				return nil, err
			}
			boats[v.BoatID] = b
		}
		out = append(out, NamedVisit{v, b})
	}
	return out, nil
}
