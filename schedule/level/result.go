package level

import (
	"cmp"
	"slices"
)

// result writes down how the board stands. atRisk comes most important first.
func (b *board) result(atRisk []int, short []Shortfall) Result {
	r := Result{Placements: make([]Placement, len(b.jobs)), Short: short}
	for j := range b.jobs {
		p := b.placement(j)
		if p.Moved {
			r.Moved++
			if b.jobs[j].Told {
				r.ToldMoved++
			}
		}
		r.Placements[j] = p
	}
	for _, j := range slices.Backward(atRisk) {
		r.AtRisk = append(r.AtRisk, b.jobs[j].ID)
	}
	for i, w := range b.weeks {
		l := Load{Week: w.Week, Capacity: w.Capacity, Booked: w.Booked, Pencilled: b.load[i] - w.Booked, Ceiling: b.ceil[i]}
		r.Load = append(r.Load, l)
		r.Peak = max(r.Peak, l.Utilisation())
		r.Level = max(r.Level, float64(b.ceil[i])/float64(w.Capacity))
	}
	for _, w := range b.shut {
		r.Load = append(r.Load, Load{Week: w.Week, Booked: w.Booked})
	}
	slices.SortFunc(r.Load, func(x, y Load) int { return cmp.Compare(x.Week, y.Week) })
	return r
}

func (b *board) placement(j int) Placement {
	job := &b.jobs[j]
	p := Placement{ID: job.ID}
	if i := b.at[j]; i != nowhere {
		p.Week = b.weeks[i].Week
		p.Late = p.Week > job.Deadline
	}
	p.Moved = job.Prior != 0 && p.Week != job.Prior
	p.Why = Why{b.reason(j, p), job.Wish, job.Prior, job.Deadline}
	return p
}

func (b *board) reason(j int, p Placement) Reason {
	job := &b.jobs[j]
	switch {
	case p.Week == 0 || p.Late:
		return b.reasonLate(j)
	case p.Week == job.Prior:
		return Kept
	case job.Prior != 0:
		return b.cause[j]
	case job.Wish == 0:
		return Soonest
	case p.Week == job.Wish:
		return Wished
	}
	return Nearest
}

func (b *board) reasonLate(j int) Reason {
	job := &b.jobs[j]
	first, last := b.span()
	switch {
	case job.Deadline < job.First || job.Deadline < first:
		return Overdue
	case job.First > last || job.Deadline > last:
		return OutOfSpan
	case b.window[j].empty():
		return Closed
	case b.size[j] > b.largest(b.window[j]):
		return TooLong
	}
	return NoHours
}

// largest is the largest capacity of any week in the window.
func (b *board) largest(w window) int {
	most := 0
	for i := w.lo; i <= w.hi; i++ {
		most = max(most, b.weeks[i].Capacity)
	}
	return most
}
