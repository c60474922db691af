package round

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

// crew is what the desk has set about the shop's weeks beside the settings:
// time off, closed days, and visits whose week it chose itself.
type crew struct {
	away   []level.Absence
	closed []civil.Day
	pins   map[string]civil.Week
	// declined are the visits that their owners do not want.
	declined map[string]bool
}

// crew reads what bears on every visit.
func (h *House) crew(ctx context.Context, from civil.Day) (crew, error) {
	return h.crewFor(ctx, from, nil, nil)
}

// crewFor reads what bears on these boats and visits; nil means all.
func (h *House) crewFor(ctx context.Context, from civil.Day, boatIDs, visitIDs []string) (crew, error) {
	away, err := h.DB.Absences(ctx, from)
	if err != nil {
		return crew{}, err
	}
	closed, err := h.DB.ClosedDays(ctx, from)
	if err != nil {
		return crew{}, err
	}
	c := crewOf(away, closed)
	if c.pins, err = h.DB.Pins(ctx, visitIDs); err != nil {
		return c, err
	}
	c.declined, err = h.DB.DeclinedVisits(ctx, boatIDs)
	return c, err
}

// crewOf is time off and closed days without anything about visits.
func crewOf(away []store.Absence, closed []store.ClosedDay) (c crew) {
	for _, a := range away {
		c.away = append(c.away, level.Absence{Technician: a.Technician, From: a.From, To: a.To})
	}
	for _, d := range closed {
		c.closed = append(c.closed, d.Day)
	}
	return c
}

// Capacity is what the shop can sell in each week from one to another, both
// included, after holidays, closed days and time off.
func (h *House) Capacity(ctx context.Context, from, to civil.Week) ([]level.Capacity, error) {
	c, err := h.crew(ctx, from.Monday())
	return h.Config.Capacity(from, to, c.closed, c.away), err
}

// pin takes a visit's hours out of the week that the desk chose for it, as a
// booking does, and reports whether it did. A week that is past binds nobody.
func (c crew) pin(v *schedule.Visit, weeks []level.Capacity) (civil.Week, bool) {
	w, ok := c.pins[v.ID]
	if !ok || len(weeks) == 0 || w < weeks[0].Week || w > weeks[len(weeks)-1].Week {
		return 0, false
	}
	weeks[w-weeks[0].Week].Booked += v.Labour
	return w, true
}
