package app

import (
	"cmp"
	"context"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// weeksAhead is how far ahead visits are pencilled: past the season visits of
// the coming year and a half, so that autumn and spring are both in sight.
const weeksAhead = 78

// Weeks is the shop's weeks with their load, and the visits in them.
type Weeks struct {
	level.Result
	Visits map[civil.Week][]schedule.Visit // pencilled or booked, by week
	// Before is the peak and mean utilisation if every visit came in the week
	// that suits it best, for comparison with the levelled one.
	BeforePeak, BeforeMean float64
	// Lapsed counts the visits of boats that have not been in for long: they
	// take no hours until booked. LapsedMinutes is what they would take.
	Lapsed, LapsedMinutes int

	byID map[string]schedule.Visit
}

// Of returns the visits of some ids, in that order.
func (w *Weeks) Of(ids []string) []schedule.Visit {
	var out []schedule.Visit
	for _, id := range ids {
		if v, ok := w.byID[id]; ok {
			out = append(out, v)
		}
	}
	return out
}

// Fit fits every planned visit into the shop's weeks from today on. It reads
// the stored plan and writes nothing.
func (a *App) Fit(ctx context.Context, today civil.Day) (*Weeks, error) {
	var visits []schedule.Visit
	err := a.DB.EachVisit(ctx, func(v schedule.Visit) error {
		visits = append(visits, v)
		return nil
	})
	if err != nil {
		return nil, err
	}
	refill, err := a.toRefill(ctx)
	if err != nil {
		return nil, err
	}
	first := today.Week()
	c, err := a.constraints(ctx, first.Monday(), nil, nil)
	if err != nil {
		return nil, err
	}
	weeks, err := a.capacityLeft(ctx, today, first, first+weeksAhead, &c)
	if err != nil {
		return nil, err
	}
	return a.fit(visits, weeks, &c, today, refill), nil
}

// settingFilled names the setting that says how the weeks were filled last, and
// filledToTarget the way in which they are filled now.
const (
	settingFilled  = "weeks-filled"
	filledToTarget = "to-wish"
)

// toRefill reports whether an earlier version of the program filled the weeks:
// then only visits whose customers were told a week have a claim to keep it.
func (a *App) toRefill(ctx context.Context) (bool, error) {
	filled, err := a.DB.Setting(ctx, settingFilled)
	if isNotFound(err) {
		return true, nil
	}
	return string(filled) != filledToTarget, err
}

func (a *App) fit(visits []schedule.Visit, weeks []level.Capacity, c *constraints, today civil.Day, refill bool) *Weeks {
	f := fitting{App: a, visits: visits, weeks: weeks, today: today, refill: refill, wish: make([]int, len(weeks)),
		out: &Weeks{Visits: make(map[civil.Week][]schedule.Visit), byID: make(map[string]schedule.Visit, len(visits))}}
	for vi := range visits {
		f.out.byID[visits[vi].ID] = visits[vi]
		f.sort(vi, c)
	}
	w := f.out
	w.Result = level.Fit(weeks, f.jobs, a.Config.Weeks.Target)
	for k := range w.Placements {
		if p, had := &w.Placements[k], visits[f.of[k]].Week; refill && f.jobs[k].Prior == 0 && had != 0 && p.Week != had {
			p.Moved, p.Why.Reason, p.Why.Prior = true, level.Refilled, had
			w.Moved++
		}
	}
	f.spread()
	w.BeforePeak, w.BeforeMean = utilisation(weeks, f.wish)
	return w
}

// fitting is what goes into the weeks: what is fixed, and what levelling places.
type fitting struct {
	*App
	visits []schedule.Visit
	weeks  []level.Capacity
	today  civil.Day
	refill bool
	out    *Weeks

	jobs    []level.Job
	fixed   []level.Placement // not levelling's choice
	of      []int             // the visit of each job
	fixedOf []int             // and of each fixed placement
	wish    []int             // minutes by week if every visit had its wish
}

// sort takes one visit: a booked one, and one whose week the desk chose, takes its
// hours first; one that nobody counts on has no week.
func (f *fitting) sort(vi int, c *constraints) {
	v, first := &f.visits[vi], f.today.Week()
	if v.Booked() {
		if i := int(v.Booking.Day.Week() - first); i >= 0 && i < len(f.weeks) {
			day := &f.weeks[i].Booked[v.Booking.Day-f.weeks[i].Week.Monday()]
			*day = day.Plus(v.Needs())
			f.wish[i] += v.Labour
		}
		return
	}
	if to, ok := c.pin(v, f.weeks); ok {
		f.wish[to-first] += v.Labour
		f.fix(vi, level.Placement{ID: v.ID, Week: to, Late: to > v.Deadline.Week(), Moved: v.Week != 0 && v.Week != to})
		return
	}
	if v.Lapsed || c.declined[v.ID] {
		if v.Lapsed {
			f.out.Lapsed, f.out.LapsedMinutes = f.out.Lapsed+1, f.out.LapsedMinutes+v.Labour
		}
		if v.Week != 0 { // it had a week before
			f.fix(vi, level.Placement{ID: v.ID, Moved: true})
		}
		return
	}
	j := f.levelJob(v, f.today, f.weeks)
	if f.refill && !v.Told {
		j.Prior = 0
	}
	if j.Wish > first+weeksAhead {
		// Nothing is known of the weeks that suit it. An earlier version gave it one
		// that was in sight.
		if f.refill && v.Week != 0 && !v.Told {
			f.fix(vi, level.Placement{ID: v.ID, Moved: true})
		}
		return
	}
	if i := int(j.Wish - first); i >= 0 && i < len(f.wish) {
		f.wish[i] += v.Labour
	}
	f.jobs, f.of = append(f.jobs, j), append(f.of, vi)
}

func (f *fitting) fix(vi int, p level.Placement) {
	f.fixed, f.fixedOf = append(f.fixed, p), append(f.fixedOf, vi)
}

// spread lists the visits by week as they lie now.
func (f *fitting) spread() {
	w := f.out
	w.Placements, f.of = append(w.Placements, f.fixed...), append(f.of, f.fixedOf...)
	for k := range w.Placements {
		v := f.visits[f.of[k]]
		v.Week = w.Placements[k].Week
		if v.Week != 0 {
			w.Visits[v.Week] = append(w.Visits[v.Week], v)
		}
	}
	for _, v := range f.visits {
		if v.Booked() {
			w.Visits[v.Booking.Day.Week()] = append(w.Visits[v.Booking.Day.Week()], v)
		}
	}
	for _, vs := range w.Visits {
		slices.SortFunc(vs, func(x, y schedule.Visit) int { return cmp.Compare(x.ID, y.ID) })
	}
}

// Mean is the mean utilisation of the open weeks that have any work.
func (w *Weeks) Mean() float64 {
	sum, n := 0.0, 0
	for _, l := range w.Load {
		if l.Capacity[level.Labor] > 0 && l.Booked[level.Labor]+l.Pencilled[level.Labor] > 0 {
			sum, n = sum+l.Utilisation(), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// levelJob says what the levelling needs to know about a visit that nobody has
// booked and that comes on a day or later. A lay-up wishes for the last week in
// which the shop works by its deadline less a margin, as the summer is what the
// boat is for, and a fit-out for the week before its launch, which is its deadline.
func (a *App) levelJob(v *schedule.Visit, from civil.Day, weeks []level.Capacity) level.Job {
	first := from.Week()
	j := level.Job{
		ID: v.ID, Needs: v.Needs(), Priority: v.Priority, Prior: v.Week, Told: v.Told,
		First: max(v.Open.Week(), first), Deadline: min(v.Close, max(v.Deadline, v.Open)), Wish: v.Day.Week(),
	}
	if v.Last != 0 {
		j.Last = max(v.Last.Week(), first)
	}
	if v.Deadline < from {
		j.Overdue = true
		j.Deadline = max(v.Close, from)
	}
	switch v.Kind {
	case schedule.LayUp:
		by := lastGoodWeek(weeks, min(j.Deadline, v.Day)) // heated storage has a later deadline than wish
		j.Wish = by - civil.Week(a.Config.Weeks.LayUpMargin)
		j.NotBefore = by - civil.Week(a.Config.Weeks.LayUpFirst)
	case schedule.FitOut:
		j.Wish = v.Day.Week() - 1
	}
	j.Wish = max(min(j.Wish, j.Deadline.Week()), j.First)
	return j
}

// lastGoodWeek is the last week in which the shop works on or before a day: that
// of the day itself unless it has no hours until then. Of weeks out of sight
// nothing is known.
func lastGoodWeek(weeks []level.Capacity, day civil.Day) civil.Week {
	w := day.Week()
	for i := len(weeks) - 1; i >= 0; i-- {
		switch c := &weeks[i]; {
		case c.Week > w:
			continue
		case c.Week < w:
			return w
		case c.Through(day)[level.Labor] > 0:
			return w
		}
		w--
	}
	return day.Week()
}

// utilisation returns the largest and the mean share of capacity taken over
// the open weeks that have any work.
func utilisation(weeks []level.Capacity, minutes []int) (peak, mean float64) {
	n := 0
	for i, w := range weeks {
		labor := w.Total()[level.Labor]
		if labor <= 0 || minutes[i] == 0 {
			continue
		}
		u := float64(minutes[i]) / float64(labor)
		peak, mean, n = max(peak, u), mean+u, n+1
	}
	if n > 0 {
		mean /= float64(n)
	}
	return peak, mean
}
