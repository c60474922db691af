package round

import (
	"cmp"
	"context"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// PartNeed is a part with the whole quantity that the coming visits use up,
// and those visits. Parts of one code and unit are added up.
type PartNeed struct {
	Part   rules.Part
	Visits []string
}

// Parts adds up what the visits of the next weeks, this one included, will use.
func (h *House) Parts(ctx context.Context, today civil.Day, weeks int) ([]PartNeed, error) {
	last := today.Week() + civil.Week(weeks-1)
	type key struct{ code, unit string }
	need := make(map[key]*PartNeed)
	boats := make(map[string][]string) // boat to its visits in these weeks
	err := h.DB.EachVisit(ctx, func(v schedule.Visit) error {
		week := v.Week
		if v.Booked() {
			week = v.Booking.Day.Week()
		}
		if week >= today.Week() && week <= last {
			boats[v.BoatID] = append(boats[v.BoatID], v.ID)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for boat, visits := range boats {
		plan, err := h.DB.Plan(ctx, boat)
		if err != nil {
			return nil, err
		}
		for i := range plan.Items {
			it := &plan.Items[i]
			r, ok := h.Planner.Catalogue().Rule(it.Rule)
			if !ok || it.ByCustomer || it.Basis == schedule.BasisUnknown || !slices.Contains(visits, it.VisitID) {
				continue // what is only looked at uses nothing yet
			}
			for _, p := range r.Parts {
				k := key{p.Code, p.Unit}
				if need[k] == nil {
					need[k] = &PartNeed{Part: rules.Part{Code: p.Code, Name: p.Name, Unit: p.Unit}}
				}
				need[k].Part.Quantity += p.Quantity
				need[k].Visits = append(need[k].Visits, it.VisitID)
			}
		}
	}
	out := make([]PartNeed, 0, len(need))
	for _, n := range need {
		slices.Sort(n.Visits)
		n.Visits = slices.Compact(n.Visits)
		out = append(out, *n)
	}
	slices.SortFunc(out, func(x, y PartNeed) int {
		return cmp.Or(cmp.Compare(x.Part.Code, y.Part.Code), cmp.Compare(x.Part.Unit, y.Part.Unit))
	})
	return out, nil
}
