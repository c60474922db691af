package app

import (
	"cmp"
	"context"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// How a visit stands in a week, in the order in which the desk reads them.
const (
	StandsOverdue   = "overdue"    // its deadline is past and nobody has booked it
	StandsPassed    = "day-passed" // its booked day is over and no work is recorded
	StandsBooked    = "booked"     // comes in on a fixed day of this week
	StandsPencilled = "pencilled"  // meant for this week, nobody has confirmed it
	StandsDue       = "due"        // something of it falls due this week
	StandsOwner     = "owner"      // falls due this week, or guards and is overdue; the owner sees to it
)

// DueRow is one line of a week's due list: one visit of one boat, or what the
// owner himself must see to.
type DueRow struct {
	Stands   string
	Boat     schedule.Boat
	Customer schedule.Customer // the present owner, empty if the boat has none
	Visit    schedule.VisitView
}

// DueList works out the due list of a week from fresh plans. It writes nothing,
// so it may be asked for any day.
func (h *App) DueList(ctx context.Context, week civil.Week, today civil.Day) ([]DueRow, error) {
	var rows []DueRow
	err := h.EachView(ctx, nil, today, func(v schedule.BoatView) error {
		rows = append(rows, dueRows(&v, week, today)...)
		return nil
	})
	if err != nil {
		return nil, err
	}
	for i := range rows {
		if rows[i].Customer, err = h.OwnerOf(ctx, rows[i].Boat.ID); err != nil {
			return nil, err
		}
	}
	order := []string{StandsOverdue, StandsPassed, StandsBooked, StandsPencilled, StandsDue, StandsOwner}
	slices.SortStableFunc(rows, func(x, y DueRow) int {
		return cmp.Or(
			cmp.Compare(slices.Index(order, x.Stands), slices.Index(order, y.Stands)),
			cmp.Compare(x.Visit.Visit.Deadline, y.Visit.Visit.Deadline),
			cmp.Compare(x.Boat.ID, y.Boat.ID))
	})
	return rows, nil
}

// EachView plans boats for a day and hands out their plans in words; ids nil
// means all. Boats that have left our care are passed over.
func (h *App) EachView(ctx context.Context, ids []string, today civil.Day, fn func(schedule.BoatView) error) error {
	places, err := h.Places(ctx)
	if err != nil {
		return err
	}
	return h.DB.EachFacts(ctx, ids, func(f *schedule.Facts) error {
		if f.Boat.Gone != 0 && f.Boat.Gone <= today {
			return nil
		}
		f.Place = places.Of(f.Boat.Place)
		plan := h.Planner.Plan(f, today)
		return fn(h.Planner.View(f, &plan))
	})
}

// dueRows picks a boat's rows for a week.
func dueRows(v *schedule.BoatView, week civil.Week, today civil.Day) []DueRow {
	var rows []DueRow
	for _, vv := range v.Visits {
		if s := stands(&vv, week, today); s != "" {
			rows = append(rows, DueRow{Stands: s, Boat: v.Boat, Visit: vv})
		}
	}
	var own []schedule.Line
	title := "For the owner"
	for _, l := range v.Loose {
		// What law or safety asks for stays on the list when its day has passed.
		overdue := l.Guarded && l.Item.Due < week.Monday() && week == today.Week()
		if l.Item.ByCustomer && (overdue || l.Item.Due.Week() == week) {
			own = append(own, l)
		}
		if l.Item.ByCustomer && overdue {
			title = "For the owner, overdue"
		}
	}
	if len(own) > 0 {
		deadline := own[0].Item.Due
		rows = append(rows, DueRow{Stands: StandsOwner, Boat: v.Boat, Visit: schedule.VisitView{
			Title: title, Lines: own, Visit: schedule.Visit{BoatID: v.Boat.ID, Deadline: deadline, Day: deadline},
		}})
	}
	return rows
}

// stands says how a visit stands in a week, "" if it has no place in it. What
// is planned for the weeks before a coming one is not overdue in it.
func stands(v *schedule.VisitView, week civil.Week, today civil.Day) string {
	switch {
	case v.Visit.Booked():
		switch day := v.Visit.Booking.Day; {
		case day < today && day.Week() <= week:
			return StandsPassed
		case day.Week() == week:
			return StandsBooked
		}
		return ""
	case v.Visit.Deadline < week.Monday() && week <= today.Week():
		return StandsOverdue
	case v.Visit.Week == week:
		return StandsPencilled
	}
	for _, l := range v.Lines {
		if l.Item.Due.Week() == week && l.Item.Basis != schedule.BasisUnknown {
			return StandsDue
		}
	}
	return ""
}
