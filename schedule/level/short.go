package level

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
)

// atRisk lists the jobs that have no week in time for want of hours, the most
// important first. Jobs that are overdue anyway, or whose weeks reach beyond
// those planned, are not among them.
func (b *board) atRisk() []int {
	first, last := b.span()
	out := slices.DeleteFunc(b.missed(), func(j int) bool {
		d := b.jobs[j].Deadline
		return d < b.jobs[j].First || d < first || d > last
	})
	slices.SortStableFunc(out, b.goesBefore)
	return out
}

// span is the first and the last week given, open or closed.
func (b *board) span() (first, last civil.Week) {
	for _, weeks := range [][]Week{b.weeks, b.shut} {
		if n := len(weeks); n > 0 {
			last = max(last, weeks[n-1].Week)
			if first == 0 || weeks[0].Week < first {
				first = weeks[0].Week
			}
		}
	}
	return first, last
}

// shortfalls tells which weeks would be over their capacity if the jobs at risk
// were to be in time all the same. It must be asked before late jobs take hours
// from anyone.
func (b *board) shortfalls(atRisk []int) []Shortfall {
	short := make(map[civil.Week]*Shortfall)
	note := func(w civil.Week, over int) *Shortfall {
		if short[w] == nil {
			short[w] = &Shortfall{Week: w}
		}
		short[w].Over += over
		return short[w]
	}
	load := slices.Clone(b.load)
	for _, j := range atRisk {
		week, over := b.jobs[j].Deadline, b.size[j]
		if !b.window[j].empty() {
			i := b.leastOver(j, load)
			week, over = b.weeks[i].Week, 0
			load[i] += b.size[j]
		}
		s := note(week, over)
		s.Jobs = append(s.Jobs, b.jobs[j].ID)
	}
	for i, w := range b.weeks {
		if over := load[i] - w.Capacity; over > 0 {
			note(w.Week, over)
		}
	}
	for _, w := range b.shut {
		if w.Booked > 0 {
			note(w.Week, w.Booked)
		}
	}
	var out []Shortfall
	for _, s := range short {
		slices.Reverse(s.Jobs)
		out = append(out, *s)
	}
	slices.SortFunc(out, func(x, y Shortfall) int { return cmp.Compare(x.Week, y.Week) })
	return out
}

// leastOver is the week of the job's window that needs the fewest minutes more
// to take it; of equals the one that is then over by the smallest share of its
// capacity, and the last of those, which leaves the desk the most time to find
// the hours.
func (b *board) leastOver(j int, load []int) int {
	best, bestMore, bestUse := nowhere, 0, 0.0
	for i := b.window[j].hi; i >= b.window[j].lo; i-- {
		free := max(b.weeks[i].Capacity-load[i], 0)
		more := b.size[j] - free
		use := float64(load[i]+b.size[j]) / float64(b.weeks[i].Capacity)
		if best == nowhere || more < bestMore || more == bestMore && use < bestUse {
			best, bestMore, bestUse = i, more, use
		}
	}
	return best
}
