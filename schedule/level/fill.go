package level

import (
	"cmp"
	"slices"
)

// keepPrior leaves jobs in the week they had, as far as that week is possible
// for them and holds them within its capacity; whether a week is too full for
// comfort is looked at later, see [state.rebalance].
func (s *state) keepPrior() {
	back := make([][]int, len(s.weeks))
	for _, j := range s.order {
		if s.jobs[j].Prior == 0 {
			continue
		}
		s.cause[j] = NewWindow
		i := s.indexOf(s.jobs[j].Prior)
		if i == none || s.window[j].holds(i) {
			s.cause[j] = LostHours
		}
		if i != none && s.window[j].holds(i) {
			back[i] = append(back[i], j)
		}
	}
	for i, jobs := range back {
		slices.SortStableFunc(jobs, s.staysBefore)
		for _, j := range jobs {
			if s.size[j] <= s.room(i) {
				s.put(j, i)
			}
		}
	}
}

// staysBefore orders the jobs of a week that may have become too small: who was
// told stays before who was not, who can go none else before who can, and
// the short before the long, because letting go of the long takes the fewest.
func (s *state) staysBefore(x, y int) int {
	return cmp.Or(
		falseFirst(!s.jobs[x].Told, !s.jobs[y].Told),
		falseFirst(s.window[x].lo < s.window[x].hi, s.window[y].lo < s.window[y].hi),
		cmp.Compare(s.size[x], s.size[y]),
	)
}

// falseFirst compares two conditions; the one that is false comes first.
func falseFirst(x, y bool) int {
	switch {
	case x == y:
		return 0
	case y:
		return -1
	}
	return 1
}

// fill gives weeks to the jobs that have none, by earliest deadline and within
// the ceilings. Where hours are short even up to the capacity, the jobs that
// can be in time are chosen first.
func (s *state) fill() {
	var rest []int
	for _, j := range s.order {
		if s.at[j] == none && s.fits[j] {
			rest = append(rest, j)
		}
	}
	chosen := s.admit(rest)
	s.newQueue(func(j int) bool { return chosen[j] }).place(s.calmRooms())
}

// admit chooses the jobs that can be in time together, by priority. If all
// visits took equally long the choice would be the best there is: sets of jobs
// that can be in time form a matroid, on which taking the most important first
// is optimal.
func (s *state) admit(rest []int) []bool {
	chosen := make([]bool, len(s.jobs))
	d, unit := newDemand(len(s.weeks)), 0
	for _, j := range rest {
		d.add(s.window[j], s.size[j])
		unit = commonDivisor(unit, s.size[j])
		chosen[j] = true
	}
	d.nest()
	room := make([]int, len(s.weeks))
	for i := range room {
		room[i] = s.room(i)
		if unit > 0 {
			room[i] -= room[i] % unit // if all jobs are half hours, 20 minutes serve none
		}
	}
	if _, bad := d.over(room); !bad {
		return chosen
	}
	left := newSpare(room)
	byNeed := slices.SortedStableFunc(slices.Values(rest), s.goesBefore)
	for k := 0; k < len(byNeed); {
		head := byNeed[k]
		from := k
		for k < len(byNeed) && s.alike(head, byNeed[k]) {
			k++
		}
		n := left.claim(s.window[head], s.size[head], k-from)
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
func (s *state) goesBefore(x, y int) int {
	return cmp.Or(
		cmp.Compare(s.jobs[y].Priority, s.jobs[x].Priority),
		falseFirst(!s.jobs[x].Told, !s.jobs[y].Told),
		cmp.Compare(s.window[x].hi, s.window[y].hi),
		cmp.Compare(s.size[x], s.size[y]),
		cmp.Compare(s.window[x].lo, s.window[y].lo),
	)
}

// alike reports whether two jobs are the same to [spare.claim].
func (s *state) alike(x, y int) bool { return s.goesBefore(x, y) == 0 }

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

// queue serves jobs to weeks by earliest deadline. It counts jobs by deadline
// and length and never looks at a single one until it deals them out, so trying
// a set of rooms costs weeks x deadlines x lengths at most, whatever the number
// of jobs.
type queue struct {
	state   *state
	lengths []int     // distinct minutes, longest first
	arrive  [][]batch // by first week
	jobs    [][]int   // by cell, in order of first week, then rank
}

// batch is a number of jobs of one cell: one deadline and one length.
type batch struct{ cell, count int }

// deal is a batch that one week takes.
type deal struct {
	week int
	batch
}

// newQueue takes the jobs that want is true for.
func (s *state) newQueue(want func(j int) bool) *queue {
	n := len(s.weeks)
	q := &queue{state: s, arrive: make([][]batch, n)}
	var in []int
	for _, j := range s.order {
		if want(j) {
			in = append(in, j)
		}
	}
	slices.SortStableFunc(in, func(x, y int) int { return cmp.Compare(s.window[x].lo, s.window[y].lo) })
	place := make(map[int]int)
	for _, j := range in {
		place[s.size[j]] = 0
	}
	for length := range place {
		q.lengths = append(q.lengths, length)
	}
	slices.SortFunc(q.lengths, func(x, y int) int { return cmp.Compare(y, x) })
	for k, length := range q.lengths {
		place[length] = k
	}
	q.jobs = make([][]int, n*len(q.lengths))
	for _, j := range in {
		w := s.window[j]
		cell := w.hi*len(q.lengths) + place[s.size[j]]
		q.jobs[cell] = append(q.jobs[cell], j)
	}
	for cell, jobs := range q.jobs {
		for k := 0; k < len(jobs); {
			lo, from := s.window[jobs[k]].lo, k
			for k < len(jobs) && s.window[jobs[k]].lo == lo {
				k++
			}
			q.arrive[lo] = append(q.arrive[lo], batch{cell, k - from})
		}
	}
	return q
}

// feasible reports whether every job is served in time.
func (q *queue) feasible(room []int) bool {
	left := q.serve(room, func(deal) {})
	return left == 0
}

// place puts every job that is served in time into its week.
func (q *queue) place(room []int) {
	next := make([]int, len(q.jobs))
	q.serve(room, func(d deal) {
		for range d.count {
			q.state.put(q.jobs[d.cell][next[d.cell]], d.week)
			next[d.cell]++
		}
	})
}

// serve lets each week take the waiting jobs in order of deadline, the longest
// first among equals; a job too long for what is left of the week waits, and
// those behind it may go before. It returns how many were not served in time.
func (q *queue) serve(room []int, take func(deal)) int {
	lengths := len(q.lengths)
	waiting := make([]int, len(q.jobs))
	byDeadline := make([]int, len(room))
	missed := 0
	for i, left := range room {
		for _, a := range q.arrive[i] {
			waiting[a.cell] += a.count
			byDeadline[a.cell/lengths] += a.count
		}
		for d := i; d < len(room) && lengths > 0 && left >= q.lengths[lengths-1]; d++ {
			for k := 0; k < lengths && byDeadline[d] > 0; k++ {
				cell, length := d*lengths+k, q.lengths[k]
				n := waiting[cell]
				if length > 0 {
					n = min(n, left/length)
				}
				if n > 0 {
					waiting[cell] -= n
					byDeadline[d] -= n
					left -= n * length
					take(deal{i, batch{cell, n}})
				}
			}
		}
		missed += byDeadline[i]
	}
	return missed
}

// wishPasses bounds how often the jobs are asked again where they would rather
// be. A job that moves leaves room for another; after a few rounds next to
// nothing moves any more.
const wishPasses = 4

// followWishes moves the jobs that are new in their week towards the week that
// wastes least, within the ceilings. Serving by deadline has put them early,
// which is safe but does work before its time.
func (s *state) followWishes() {
	for range wishPasses {
		moved := false
		for _, j := range s.order {
			if s.at[j] == none || s.inPrior(j) {
				continue
			}
			if i := s.nearest(j, s.calmRoom); i != none && s.off(j, i) < s.off(j, s.at[j]) {
				s.take(j)
				s.put(j, i)
				moved = true
			}
		}
		if !moved {
			return
		}
	}
}

// nearest is the week of the job's window, its own left out, that has room for
// it and lies nearest to where it would best be; of two the earlier.
func (s *state) nearest(j int, room func(i int) int) int {
	best, bestOff := none, 0
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		if i == s.at[j] || room(i) < s.size[j] {
			continue
		}
		if off := s.off(j, i); best == none || off < bestOff {
			best, bestOff = i, off
		}
	}
	return best
}
