package app

import (
	"context"

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

// pencilAll fits all visits into weeks and writes the weeks down.
func (a *App) pencilAll(ctx context.Context, today civil.Day) (Pencilled, error) {
	w, err := a.Fit(ctx, today)
	if err != nil {
		return Pencilled{}, err
	}
	weeks := make([]store.Week, len(w.Placements))
	for i, p := range w.Placements {
		weeks[i] = store.Week{VisitID: p.ID, Week: p.Week, Why: p.Why}
	}
	out := Pencilled{Moved: w.Moved, ToldMoved: w.ToldMoved}
	if out.Boats, err = a.db.SaveWeeks(ctx, weeks); err != nil {
		return out, err
	}
	if err := a.keepShort(ctx, w); err != nil {
		return out, err
	}
	return out, a.db.SetSetting(ctx, settingFilled, []byte(filledToTarget))
}

// pencilFew gives the visits of a few newly planned boats weeks in the load as
// it stands and moves no other boat. False if one of them finds no room in time
// that way: then all must be fitted again.
func (a *App) pencilFew(ctx context.Context, today civil.Day, plans []schedule.BoatPlan) (Pencilled, bool, error) {
	load, err := a.weekLoadNow(ctx, today, plans)
	if err != nil {
		return Pencilled{}, false, err
	}
	var out Pencilled
	var weeks []store.Week
	for _, plan := range plans {
		for i := range plan.Visits {
			v := &plan.Visits[i]
			p, ok := load.place(v)
			if !ok {
				return out, false, nil
			}
			if p.Week == v.Week && !v.Lapsed { // a fresh plan forgets the week of a lapsed visit
				continue
			}
			weeks = append(weeks, store.Week{VisitID: v.ID, Week: p.Week, Why: p.Why})
			if v.Week != 0 {
				out.Moved++
			}
			if v.Told {
				out.ToldMoved++
			}
		}
	}
	if load.crowded(load.first, level.Amounts{}) {
		return out, false, nil // work recorded today took hours that it was not planned for
	}
	if len(weeks) == 0 {
		return out, true, nil
	}
	out.Boats, err = a.db.SaveWeeks(ctx, weeks)
	return out, true, err
}

// weekLoad is the load of the coming weeks while single visits are put into it.
type weekLoad struct {
	app       *App
	today     civil.Day
	first     civil.Week
	weeks     []level.Capacity
	taken     map[civil.Week]level.Amounts // booked and pencilled
	pencilled []level.Amounts              // what of that nobody has confirmed, by week
	constraints
}

// weekLoadNow reads the load as it stands, and what bears on the visits of these
// plans.
func (a *App) weekLoadNow(ctx context.Context, today civil.Day, plans []schedule.BoatPlan) (*weekLoad, error) {
	r := &weekLoad{app: a, today: today, first: today.Week(), taken: make(map[civil.Week]level.Amounts)}
	boats, visits := []string{}, []string{}
	for _, plan := range plans {
		for i := range plan.Visits {
			boats, visits = append(boats, plan.Visits[i].BoatID), append(visits, plan.Visits[i].ID)
		}
	}
	var err error
	if r.constraints, err = a.constraints(ctx, r.first.Monday(), unique(boats), visits); err != nil {
		return nil, err
	}
	if r.weeks, err = a.capacityLeft(ctx, today, r.first, r.first+weeksAhead, &r.constraints); err != nil {
		return nil, err
	}
	loads, err := a.DB.WeekLoads(ctx, r.first, r.first+weeksAhead)
	if err != nil {
		return nil, err
	}
	r.pencilled = make([]level.Amounts, len(r.weeks))
	for _, l := range loads {
		r.taken[l.Week] = l.Booked.Plus(l.Pencilled)
		r.pencilled[l.Week-r.first] = l.Pencilled
	}
	return r, nil
}

// add pencils a visit into a week, and drop takes it out; weeks out of sight have
// no load.
func (r *weekLoad) add(w civil.Week, v *schedule.Visit) { r.count(w, v.Needs()) }

func (r *weekLoad) drop(w civil.Week, v *schedule.Visit) {
	r.count(w, level.Amounts{}.Less(v.Needs()))
}

func (r *weekLoad) count(w civil.Week, needs level.Amounts) {
	if i := int(w - r.first); i >= 0 && i < len(r.weeks) {
		r.taken[w] = r.taken[w].Plus(needs)
		r.pencilled[i] = r.pencilled[i].Plus(needs)
	}
}

// place finds the week of one visit and takes its hours there. A booked visit
// has none, and one that lies beyond the weeks in sight keeps what it has.
// False also if a booking or the desk's own choice leaves other visits in its
// week without hours: they must move.
func (r *weekLoad) place(v *schedule.Visit) (level.Placement, bool) {
	if v.Booked() {
		return level.Placement{Week: v.Week}, !r.crowded(v.Booking.Day.Week(), level.Amounts{})
	}
	if w, ok := r.fixed(v); ok && w >= r.first && int(w-r.first) < len(r.weeks) {
		r.drop(v.Week, v)
		r.add(w, v)
		return level.Placement{Week: w}, !r.crowded(w, v.Needs())
	}
	if v.Lapsed || r.declined[v.ID] {
		r.drop(v.Week, v)
		return level.Placement{}, true
	}
	j := r.app.levelJob(v, r.today, r.weeks)
	if j.Wish > r.first+weeksAhead {
		return level.Placement{Week: v.Week}, true
	}
	r.drop(v.Week, v)
	p, ok := level.Place(r.weeks, r.taken, j, r.app.Config.Weeks.Target)
	if !ok && r.left(v.Week).Covers(v.Needs()) && !r.roomAfter(j) {
		p, ok = level.Placement{Week: v.Week}, true // late for lack of hours, and no later than before
	}
	if ok {
		r.add(p.Week, v)
	}
	return p, ok
}

// roomAfter reports whether the week of a visit's deadline has hours for it on
// later days. Then others there may be able to wait until those, which only
// levelling all weeks can tell.
func (r *weekLoad) roomAfter(j level.Job) bool {
	last := j.Deadline.Week().Sunday()
	if j.Deadline == last {
		return false
	}
	j.Deadline = last
	_, ok := level.Place(r.weeks, r.taken, j, r.app.Config.Weeks.Target)
	return ok
}

// left is what a week in sight has left, less than 0 of what it holds more than it
// has; nothing for other weeks.
func (r *weekLoad) left(w civil.Week) level.Amounts {
	i := int(w - r.first)
	if i < 0 || i >= len(r.weeks) {
		return level.Amounts{}
	}
	return r.weeks[i].Total().Less(r.taken[w])
}

// crowded reports whether a week in sight holds more than it has of something while
// it has visits that could go elsewhere. So much of what is pencilled cannot.
func (r *weekLoad) crowded(w civil.Week, fixed level.Amounts) bool {
	for i, n := range r.left(w) {
		if n < 0 && r.pencilled[w-r.first][i] > fixed[i] {
			return true
		}
	}
	return false
}
