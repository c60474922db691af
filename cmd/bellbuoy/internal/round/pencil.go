package round

import (
	"context"
	"fmt"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

// Pencilled says what putting visits into weeks changed.
type Pencilled struct {
	Boats []string // for which a week changed
	// Moved counts the visits that had a week and lie in another one now, and
	// ToldMoved those of them whose customer was told the week.
	Moved, ToldMoved int
}

// Pencil fits all visits into weeks and writes the weeks down. It returns the
// boats whose weeks changed.
func (h *House) Pencil(ctx context.Context, today civil.Day) ([]string, error) {
	p, err := h.pencilAll(ctx, today)
	return p.Boats, err
}

// settingLevel names the setting that holds how full the last levelling wanted
// a week to be at most, as a share of its hours.
const settingLevel = "weeks-level"

func (h *House) pencilAll(ctx context.Context, today civil.Day) (Pencilled, error) {
	w, err := h.Fit(ctx, today)
	if err != nil {
		return Pencilled{}, err
	}
	weeks := make([]store.Week, len(w.Placements))
	for i, p := range w.Placements {
		weeks[i] = store.Week{VisitID: p.ID, Week: p.Week}
	}
	out := Pencilled{Moved: w.Moved, ToldMoved: w.ToldMoved}
	if out.Boats, err = h.DB.SaveWeeks(ctx, weeks); err != nil {
		return out, err
	}
	return out, h.DB.SetSetting(ctx, settingLevel, strconv.AppendFloat(nil, w.Level, 'g', -1, 64))
}

// pencilFew gives the visits of a few newly planned boats weeks in the load as
// it stands and moves no other boat. False if one of them finds no room in time
// that way: then all must be fitted anew.
func (h *House) pencilFew(ctx context.Context, today civil.Day, plans []schedule.BoatPlan) (Pencilled, bool, error) {
	fit, err := h.roomNow(ctx, today, plans)
	if err != nil {
		return Pencilled{}, false, err
	}
	var out Pencilled
	var weeks []store.Week
	for _, plan := range plans {
		for i := range plan.Visits {
			v := &plan.Visits[i]
			week, ok := fit.place(v)
			if !ok {
				return out, false, nil
			}
			if week == v.Week && !v.Lapsed { // a fresh plan forgets the week of a lapsed visit
				continue
			}
			weeks = append(weeks, store.Week{VisitID: v.ID, Week: week})
			if v.Week != 0 {
				out.Moved++
			}
			if v.Told {
				out.ToldMoved++
			}
		}
	}
	if len(weeks) == 0 {
		return out, true, nil
	}
	out.Boats, err = h.DB.SaveWeeks(ctx, weeks)
	return out, true, err
}

// roomy is the load of the coming weeks while single visits are put into it.
type roomy struct {
	first     civil.Week
	weeks     []level.Capacity // booked and pencilled minutes together in Booked
	pencilled []int            // what of it nobody has confirmed, by week
	level     float64
	pins      map[string]civil.Week
	// declined are the visits that their owners do not want.
	declined map[string]bool
}

// roomNow reads the load as it stands, and what bears on the visits of these
// plans.
func (h *House) roomNow(ctx context.Context, today civil.Day, plans []schedule.BoatPlan) (*roomy, error) {
	r := &roomy{first: today.Week()}
	boats, visits := []string{}, []string{}
	for _, plan := range plans {
		for i := range plan.Visits {
			boats, visits = append(boats, plan.Visits[i].BoatID), append(visits, plan.Visits[i].ID)
		}
	}
	c, err := h.crewFor(ctx, r.first.Monday(), unique(boats), visits)
	if err != nil {
		return nil, err
	}
	r.pins, r.declined = c.pins, c.declined
	r.weeks = h.Config.Capacity(r.first, r.first+weeksAhead, c.closed, c.away)
	loads, err := h.DB.WeekLoads(ctx, r.first, r.first+weeksAhead)
	if err != nil {
		return nil, err
	}
	r.pencilled = make([]int, len(r.weeks))
	for _, l := range loads {
		r.weeks[l.Week-r.first].Booked = l.Booked + l.Pencilled
		r.pencilled[l.Week-r.first] = l.Pencilled
	}
	text, err := h.DB.Setting(ctx, settingLevel)
	if isNotFound(err) {
		r.level = 1
		return r, nil
	}
	if err != nil {
		return nil, err
	}
	if r.level, err = strconv.ParseFloat(string(text), 64); err != nil {
		return nil, fmt.Errorf("setting %q: %w", settingLevel, err)
	}
	return r, nil
}

// add pencils minutes into a week; weeks out of sight have no load.
func (r *roomy) add(w civil.Week, minutes int) {
	if i := int(w - r.first); i >= 0 && i < len(r.weeks) {
		r.weeks[i].Booked += minutes
		r.pencilled[i] += minutes
	}
}

// place finds the week of one visit and takes its hours there. A booked visit
// has none, and one that lies beyond the weeks in sight keeps what it has.
// False also if a booking or the desk's own choice leaves other visits in its
// week without hours: they must move.
func (r *roomy) place(v *schedule.Visit) (civil.Week, bool) {
	if v.Booked() {
		return v.Week, !r.crowded(v.Booking.Day.Week(), 0)
	}
	if w, ok := r.pins[v.ID]; ok && w >= r.first && int(w-r.first) < len(r.weeks) {
		r.add(v.Week, -v.Labour)
		r.add(w, v.Labour)
		return w, !r.crowded(w, v.Labour)
	}
	if v.Lapsed || r.declined[v.ID] {
		r.add(v.Week, -v.Labour)
		return 0, true
	}
	j := job(v, r.first)
	if j.First > r.first+weeksAhead {
		return v.Week, true
	}
	r.add(v.Week, -v.Labour)
	w, ok := level.Place(r.weeks, j, r.level)
	if !ok && r.holds(v.Week, v.Labour) {
		w, ok = v.Week, true // late for want of hours, and no later than before
	}
	if ok {
		r.add(w, v.Labour)
	}
	return w, ok
}

// holds reports whether a week in sight has hours for so many minutes more.
func (r *roomy) holds(w civil.Week, minutes int) bool {
	i := int(w - r.first)
	return i >= 0 && i < len(r.weeks) && r.weeks[i].Booked+minutes <= r.weeks[i].Capacity
}

// crowded reports whether a week in sight holds more than its hours while it
// has visits that could go elsewhere. So many of the pencilled minutes cannot.
func (r *roomy) crowded(w civil.Week, fixed int) bool {
	i := int(w - r.first)
	return i >= 0 && i < len(r.weeks) && r.weeks[i].Booked > r.weeks[i].Capacity && r.pencilled[i] > fixed
}
