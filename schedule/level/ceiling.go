package level

import "math"

// shareOf is a share of a capacity in whole minutes, rounded down.
func shareOf(capacity int, share float64) int {
	return int(math.Floor(float64(capacity)*share + 1e-9))
}

// shareSteps is how often the search for a share halves its interval: fine
// enough for a few minutes of a week of a hundred technicians.
const shareSteps = 16

// setCeilings decides how much each week should hold: the target, and more only
// where the work does not fit under it. A run of weeks that is too crowded gets
// the smallest share of its capacity for which serving by earliest deadline has
// nobody late. Weeks whose work exceeds all their capacity get all of it, and
// the rest of the year is levelled all the same. It looks at the work alone and
// not at where it lay before, so that a plan fitted again has the same ceilings.
func (s *state) setCeilings(target float64) {
	q := s.newQueue(func(j int) bool { return s.possible[j] })
	for i := range s.weeks {
		s.setShare(i, target)
	}
	missed := func(last int) int { return q.serve(s.calm, last, nil).missed[last] }
	for last := range s.weeks {
		served := q.serve(s.calm, last, nil)
		if served.missed[last] <= q.given[last] {
			continue
		}
		first := served.pressedFrom(last)
		before := append([]float64(nil), s.share[first:last+1]...)
		raise := func(from int, share float64) {
			for i := first; i <= last; i++ {
				s.setShare(i, before[i-first])
				if i >= from {
					s.setShare(i, max(before[i-first], share))
				}
			}
		}
		raise(first, 1)
		q.given[last] = missed(last) // not possible even so
		lo, hi := target, 1.0
		for range shareSteps {
			mid := (lo + hi) / 2
			if raise(first, mid); missed(last) <= q.given[last] {
				hi = mid
			} else {
				lo = mid
			}
		}
		// Of the weeks before the crowded ones not more is raised than must be.
		from, to := first, last // from holds, weeks after to may not
		for from < to {
			mid := (from + to + 1) / 2
			if raise(mid, hi); missed(last) <= q.given[last] {
				from = mid
			} else {
				to = mid - 1
			}
		}
		raise(from, hi)
	}
}

func (s *state) setShare(i int, share float64) {
	if s.share[i] != share {
		s.share[i], s.calm[i] = share, s.weeks[i].roomAt(share).notNegative()
	}
}
