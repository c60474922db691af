package round

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
func (h *House) Fit(ctx context.Context, today civil.Day) (*Weeks, error) {
	var visits []schedule.Visit
	err := h.DB.EachVisit(ctx, func(v schedule.Visit) error {
		visits = append(visits, v)
		return nil
	})
	if err != nil {
		return nil, err
	}
	c, err := h.crew(ctx, today.Week().Monday())
	if err != nil {
		return nil, err
	}
	return h.fit(visits, c, today), nil
}

func (h *House) fit(visits []schedule.Visit, c crew, today civil.Day) *Weeks {
	w := &Weeks{Visits: make(map[civil.Week][]schedule.Visit), byID: make(map[string]schedule.Visit, len(visits))}
	for _, v := range visits {
		w.byID[v.ID] = v
	}
	first := today.Week()
	weeks := h.Config.Capacity(first, first+weeksAhead, c.closed, c.away)
	var pinned []level.Placement // the desk's own choice, not the levelling's
	var pinnedOf []int
	at := make(map[civil.Week]int, len(weeks))
	for i := range weeks {
		at[weeks[i].Week] = i
	}
	var jobs []level.Job
	var of []int
	wish := make([]int, len(weeks)) // minutes if every visit had its wish
	for vi := range visits {
		v := &visits[vi]
		if v.Booked() {
			if i, ok := at[v.Booking.Day.Week()]; ok {
				weeks[i].Booked += v.Labour
				wish[i] += v.Labour
			}
			continue
		}
		if to, ok := c.pin(v, weeks); ok {
			wish[to-first] += v.Labour
			pinned = append(pinned, level.Placement{ID: v.ID, Week: to, Late: to > v.Deadline.Week(), Moved: v.Week != 0 && v.Week != to})
			pinnedOf = append(pinnedOf, vi)
			continue
		}
		if v.Lapsed || c.declined[v.ID] {
			if v.Lapsed {
				w.Lapsed, w.LapsedMinutes = w.Lapsed+1, w.LapsedMinutes+v.Labour
			}
			if v.Week != 0 { // it had a week before
				pinned = append(pinned, level.Placement{ID: v.ID, Moved: true})
				pinnedOf = append(pinnedOf, vi)
			}
			continue
		}
		j := job(v, first)
		if j.First > first+weeksAhead {
			continue
		}
		if i, ok := at[j.Wish]; ok {
			wish[i] += v.Labour
		}
		jobs, of = append(jobs, j), append(of, vi)
	}
	w.Result = level.Fit(weeks, jobs)
	w.Placements, of = append(w.Placements, pinned...), append(of, pinnedOf...)
	for k := range w.Placements {
		v := visits[of[k]]
		v.Week = w.Placements[k].Week
		if v.Week != 0 {
			w.Visits[v.Week] = append(w.Visits[v.Week], v)
		}
	}
	for _, v := range visits {
		if v.Booked() {
			w.Visits[v.Booking.Day.Week()] = append(w.Visits[v.Booking.Day.Week()], v)
		}
	}
	for _, vs := range w.Visits {
		slices.SortFunc(vs, func(x, y schedule.Visit) int { return cmp.Compare(x.ID, y.ID) })
	}
	w.BeforePeak, w.BeforeMean = utilisation(weeks, wish)
	return w
}

// Mean is the mean utilisation of the open weeks that have any work.
func (w *Weeks) Mean() float64 {
	sum, n := 0.0, 0
	for _, l := range w.Load {
		if l.Capacity > 0 && l.Booked+l.Pencilled > 0 {
			sum, n = sum+l.Utilisation(), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// job says what the levelling needs to know about a visit that nobody has
// booked. What is late already may come from this week on, and should come
// soon.
func job(v *schedule.Visit, first civil.Week) level.Job {
	j := level.Job{
		ID: v.ID, Minutes: v.Labour, Priority: v.Priority, Prior: v.Week, Told: v.Told,
		First: max(v.Open.Week(), first), Deadline: min(v.Close, max(v.Deadline, v.Open)).Week(), Wish: v.Day.Week(),
	}
	if v.Last != 0 {
		j.Last = max(v.Last.Week(), first)
	}
	if v.Deadline.Week() < first {
		j.Deadline = v.Close.Week()
	}
	// The boat must be done by the deadline: a week that ends after it is too
	// late unless it is the only one.
	if lastWhole := (v.Deadline + 1).Week() - 1; lastWhole >= j.First && v.Deadline.Week() >= first {
		j.Deadline = min(j.Deadline, lastWhole)
	}
	j.Deadline = max(j.Deadline, j.First)
	j.Wish = min(max(j.Wish, j.First), j.Deadline)
	return j
}

// utilisation returns the largest and the mean share of capacity taken over
// the open weeks that have any work.
func utilisation(weeks []level.Capacity, minutes []int) (peak, mean float64) {
	n := 0
	for i, w := range weeks {
		if w.Capacity <= 0 || minutes[i] == 0 {
			continue
		}
		u := float64(minutes[i]) / float64(w.Capacity)
		peak, mean, n = max(peak, u), mean+u, n+1
	}
	if n > 0 {
		mean /= float64(n)
	}
	return peak, mean
}
