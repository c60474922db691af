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
			if s.fits(j, i, s.room) {
				s.put(j, i)
			}
		}
	}
}

// staysBefore orders the jobs of a week that may have become too small: who was
// told stays before who was not, who can go nowhere else before who can, and
// the short before the long, because letting go of the long takes the fewest.
func (s *state) staysBefore(x, y int) int {
	return cmp.Or(
		falseFirst(!s.jobs[x].Told, !s.jobs[y].Told),
		falseFirst(s.window[x].lo < s.window[x].hi, s.window[y].lo < s.window[y].hi),
		s.bySize(x, y),
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

// hasten gives each overdue job that has a week, or is chosen for one, the
// earliest with room, the most important first, unless its customer was told
// another.
func (s *state) hasten(chosen []bool) {
	var jobs []int
	for _, j := range s.order {
		if s.jobs[j].Overdue && (s.at[j] != none || chosen != nil && chosen[j]) {
			jobs = append(jobs, j)
		}
	}
	s.mostImportantFirst(jobs)
	for moved := true; moved; {
		moved = false
		for _, j := range jobs {
			i := s.nearest(j, s.calm)
			switch {
			case i == none || s.wasTold(j) || s.at[j] != none && s.cost(j, i) >= s.cost(j, s.at[j]):
				continue
			case s.at[j] != none:
				s.leave(j, Overdue)
			}
			s.put(j, i)
			moved = true
		}
	}
}

// fill gives weeks to the jobs that have none, those that are overdue first, the
// others by earliest deadline, and within the ceilings. Where hours are short even up to the capacity, the jobs that
// can be in time are chosen first.
func (s *state) fill() {
	var rest []int
	for _, j := range s.order {
		if s.at[j] == none && s.possible[j] {
			rest = append(rest, j)
		}
	}
	chosen := s.admit(rest)
	s.hasten(chosen)
	q := s.newQueue(func(j int) bool { return chosen[j] && s.at[j] == none })
	q.serve(s.left(s.calm), len(s.weeks)-1, s.put)
}

// left is what is left of some room beside the jobs placed so far.
func (s *state) left(room []byDay) []byDay {
	out := slices.Clone(room)
	for i := range out {
		for d := range out[i] {
			for r := range s.kinds {
				out[i][d][r] -= s.load[i][d][r]
			}
		}
		out[i].settle()
		out[i] = out[i].notNegative()
	}
	return out
}

// admit chooses the jobs that can be in time together, by priority. If all
// visits took equally long the choice would be the best there is: sets of jobs
// that can be in time form a matroid, on which taking the most important first
// is optimal. It looks at whole weeks; what a deadline in the middle of one
// forbids is left to [state.repair].
func (s *state) admit(rest []int) []bool {
	chosen := make([]bool, len(s.jobs))
	for _, j := range rest {
		chosen[j] = true
	}
	free := s.left(s.room)
	if all := s.newQueue(func(j int) bool { return chosen[j] }).serve(free, len(s.weeks)-1, nil); !slices.ContainsFunc(all.missed, func(n int) bool { return n > 0 }) {
		return chosen
	}
	var unit Amounts
	for _, j := range rest {
		for r := range s.kinds {
			unit[r] = commonDivisor(unit[r], s.need[j][r])
		}
	}
	spares := make([]spare, s.kinds)
	for r := range spares {
		room := make([]int, len(s.weeks))
		for i := range room {
			room[i] = free[i][6][r]
			if unit[r] > 0 {
				room[i] -= room[i] % unit[r] // if all jobs are half hours, 20 minutes serve none
			}
		}
		spares[r] = newSpare(room)
	}
	byNeed := slices.SortedStableFunc(slices.Values(rest), s.goesBefore)
	for k := 0; k < len(byNeed); {
		head, from := byNeed[k], k
		for k < len(byNeed) && s.goesBefore(head, byNeed[k]) == 0 {
			k++
		}
		n := k - from
		for r := range spares {
			n = spares[r].most(s.window[head], s.need[head][r], n)
		}
		for r := range spares {
			spares[r].claim(s.window[head], s.need[head][r]*n)
		}
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
		s.bySize(x, y),
		cmp.Compare(s.window[x].lo, s.window[y].lo),
	)
}

// spare is the room of one resource that is left in each interval of weeks.
type spare struct {
	n int
	v []int // n x n, row first week, column last
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

// most is how many of so many jobs every interval around their window has room
// for.
func (s spare) most(w window, each, jobs int) int {
	if each == 0 {
		return jobs
	}
	for a := 0; a <= w.lo && jobs > 0; a++ {
		for b := w.hi; b < s.n; b++ {
			jobs = min(jobs, s.v[a*s.n+b]/each)
		}
	}
	return jobs
}

// claim takes room in every interval around a window.
func (s spare) claim(w window, amount int) {
	if amount == 0 {
		return
	}
	for a := 0; a <= w.lo; a++ {
		for b := w.hi; b < s.n; b++ {
			s.v[a*s.n+b] -= amount
		}
	}
}

// queue serves jobs to weeks by earliest deadline. It counts jobs by deadline
// and needs and never looks at a single one until it deals them out, so trying
// a set of rooms costs weeks x deadlines x needs at most, whatever the number of
// jobs.
type queue struct {
	kinds  int       // resources that count
	due    [][]batch // by week of the deadline; in order of its day, the longest first
	arrive [][]arrival
	given  []int // jobs of each week's deadlines that are given up for late
}

// batch is the jobs of one deadline and equal needs.
type batch struct {
	day  int // the last one of the week that counts
	need Amounts
	jobs []int // in order of first week, then rank
}

// arrival is a number of jobs of one batch whose first week it is.
type arrival struct{ due, batch, count int }

// newQueue takes the jobs that want is true for.
func (s *state) newQueue(want func(j int) bool) *queue {
	n := len(s.weeks)
	q := &queue{kinds: s.kinds, due: make([][]batch, n), arrive: make([][]arrival, n), given: make([]int, n)}
	var in []int
	for _, j := range s.order {
		if want(j) {
			in = append(in, j)
		}
	}
	slices.SortStableFunc(in, func(x, y int) int {
		return cmp.Or(
			cmp.Compare(s.window[x].hi, s.window[y].hi), cmp.Compare(s.window[x].day, s.window[y].day),
			s.bySize(y, x), cmp.Compare(s.window[x].lo, s.window[y].lo))
	})
	for k := 0; k < len(in); {
		head, from := in[k], k
		hi := s.window[head].hi
		for k < len(in) && s.window[in[k]].hi == hi && s.window[in[k]].day == s.window[head].day && s.need[in[k]] == s.need[head] {
			k++
		}
		b := batch{s.window[head].day, s.need[head], in[from:k]}
		for m := 0; m < len(b.jobs); {
			lo, first := s.window[b.jobs[m]].lo, m
			for m < len(b.jobs) && s.window[b.jobs[m]].lo == lo {
				m++
			}
			q.arrive[lo] = append(q.arrive[lo], arrival{hi, len(q.due[hi]), m - first})
		}
		q.due[hi] = append(q.due[hi], b)
	}
	return q
}

// served is how serving went.
type served struct {
	missed []int // jobs not served in time, by week of their deadline
	waits  []int // the earliest deadline's week that had jobs waiting after each week
}

// pressedFrom is the first of the weeks that jobs due in a week pressed on:
// before it, none with so early a deadline had to wait.
func (d served) pressedFrom(due int) int {
	for i := due - 1; i >= 0; i-- {
		if d.waits[i] > due {
			return i + 1
		}
	}
	return 0
}

// serve lets each week up to the last take the waiting jobs in order of
// deadline, the longest first among equals; a job too long for what is left of
// the week waits, and those behind it may go before. put, if any, gets each job
// with its week.
func (q *queue) serve(room []byDay, last int, put func(j, week int)) served {
	out := served{make([]int, len(q.due)), make([]int, len(q.due))}
	waiting := make([][]int, len(q.due))
	next := make([][]int, len(q.due))
	count := make([]int, len(q.due)) // waiting, by week of deadline
	for d := range waiting {
		waiting[d], next[d] = make([]int, len(q.due[d])), make([]int, len(q.due[d]))
	}
	for i := 0; i <= last; i++ {
		for _, a := range q.arrive[i] {
			waiting[a.due][a.batch] += a.count
			count[a.due] += a.count
		}
		var taken Amounts
		out.waits[i] = len(q.due)
		for d := i; d < len(q.due); d++ {
			for k := 0; k < len(q.due[d]) && count[d] > 0; k++ {
				b := &q.due[d][k]
				day := 6
				if d == i {
					day = b.day
				}
				n := waiting[d][k]
				for r := range q.kinds {
					if b.need[r] > 0 {
						n = min(n, (room[i][day][r]-taken[r])/b.need[r])
					}
				}
				if n <= 0 {
					continue
				}
				waiting[d][k] -= n
				count[d] -= n
				for r := range q.kinds {
					taken[r] += n * b.need[r]
				}
				for ; put != nil && n > 0; n-- {
					put(b.jobs[next[d][k]], i)
					next[d][k]++
				}
			}
			if count[d] > 0 && out.waits[i] == len(q.due) && d > i {
				out.waits[i] = d
			}
		}
		out.missed[i] = count[i]
	}
	return out
}

// wishPasses bounds how often the jobs are asked again where they would rather
// be. A job that moves leaves room for another; after a few rounds next to
// nothing moves any more.
const wishPasses = 4

// followWishes moves the jobs that are new in their week towards the week that
// suits best, within the ceilings. Serving by deadline has put them early, which
// is safe but does work before its time.
func (s *state) followWishes() {
	for range wishPasses {
		moved := false
		for _, j := range s.order {
			if s.at[j] == none || s.inPrior(j) || s.jobs[j].Overdue {
				continue
			}
			if i := s.nearest(j, s.calm); i != none && s.cost(j, i) < s.cost(j, s.at[j]) {
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
