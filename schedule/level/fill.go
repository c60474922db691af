package level

import (
	"cmp"
	"slices"
)

// fill gives weeks to the jobs that have none, by earliest deadline and within
// the ceilings. Where hours are short even up to the capacity, the jobs that
// can be in time are chosen first.
func (b *board) fill() {
	var rest []int
	for _, j := range b.order {
		if b.at[j] == nowhere && b.fits[j] {
			rest = append(rest, j)
		}
	}
	chosen := b.admit(rest)
	b.newQueue(func(j int) bool { return chosen[j] }).place(b.calmRooms())
}

// admit chooses the jobs that can be in time together, by priority. If all
// visits took equally long the choice would be the best there is: sets of jobs
// that can be in time form a matroid, on which taking the most important first
// is optimal.
func (b *board) admit(rest []int) []bool {
	chosen := make([]bool, len(b.jobs))
	d, unit := newDemand(len(b.weeks)), 0
	for _, j := range rest {
		d.add(b.window[j], b.size[j])
		unit = commonDivisor(unit, b.size[j])
		chosen[j] = true
	}
	d.nest()
	room := make([]int, len(b.weeks))
	for i := range room {
		room[i] = b.room(i)
		if unit > 0 {
			room[i] -= room[i] % unit // if all jobs are half hours, 20 minutes serve none
		}
	}
	if _, bad := d.over(room); !bad {
		return chosen
	}
	s := newSpare(room)
	byNeed := slices.SortedStableFunc(slices.Values(rest), b.goesBefore)
	for k := 0; k < len(byNeed); {
		head := byNeed[k]
		from := k
		for k < len(byNeed) && b.alike(head, byNeed[k]) {
			k++
		}
		n := s.claim(b.window[head], b.size[head], k-from)
		for _, j := range byNeed[from+n : k] {
			chosen[j] = false
		}
	}
	return chosen
}

// commonDivisor is the greatest number that divides both; 0 divides into any.
func commonDivisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// goesBefore orders jobs for scarce hours: by priority, then told before
// untold, then by deadline, and the short before the long, which saves the most
// deadlines.
func (b *board) goesBefore(x, y int) int {
	return cmp.Or(
		cmp.Compare(b.jobs[y].Priority, b.jobs[x].Priority),
		falseFirst(!b.jobs[x].Told, !b.jobs[y].Told),
		cmp.Compare(b.window[x].hi, b.window[y].hi),
		cmp.Compare(b.size[x], b.size[y]),
		cmp.Compare(b.window[x].lo, b.window[y].lo),
	)
}

// alike reports whether two jobs are the same to [spare.claim].
func (b *board) alike(x, y int) bool { return b.goesBefore(x, y) == 0 }

// spare is the room that is left in each interval of weeks.
type spare struct {
	n int
	v []int
}

func newSpare(room []int) spare {
	s := spare{len(room), make([]int, len(room)*len(room))}
	for a := range s.n {
		sum := 0
		for b := a; b < s.n; b++ {
			sum += room[b]
			s.v[a*s.n+b] = sum
		}
	}
	return s
}

// claim takes room for as many of the jobs as every interval around their
// window allows, and returns how many that are.
func (s spare) claim(w window, minutes, jobs int) int {
	if minutes == 0 {
		return jobs
	}
	for a := 0; a <= w.lo && jobs > 0; a++ {
		for b := w.hi; b < s.n; b++ {
			jobs = min(jobs, s.v[a*s.n+b]/minutes)
		}
	}
	if jobs == 0 {
		return 0
	}
	for a := 0; a <= w.lo; a++ {
		for b := w.hi; b < s.n; b++ {
			s.v[a*s.n+b] -= jobs * minutes
		}
	}
	return jobs
}
