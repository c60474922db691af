package level

import (
	"cmp"
	"slices"
)

// failure is a repair that was tried in vain: as long as no week gains room,
// a job with no wider window, no less work and no higher priority fails too.
type failure struct {
	w        window
	need     Amounts
	priority int
}

// atLeast reports whether no amount is less than its counterpart.
func (a Amounts) atLeast(b Amounts) bool {
	for r := range a {
		if a[r] < b[r] {
			return false
		}
	}
	return true
}

// repairRounds bounds how often repairing and evening out take turns.
const repairRounds = 8

// settle gives weeks to the jobs that are still without one and evens out what
// is too full, until neither finds anything to do.
func (s *state) settle() {
	for range repairRounds {
		repaired := s.repair()
		if evened := s.rebalance(); !repaired && !evened {
			return
		}
	}
}

// repair tries to get the jobs without a week in after all: into a week with
// room, else by moving one other job that can go elsewhere in time, else at the
// cost of less important ones. Those then look for a week in turn.
func (s *state) repair() bool {
	any := false
	s.stop = s.stop[:0]
	for work := s.missed(); len(work) > 0; {
		s.mostImportantFirst(work)
		var bumped []int
		for _, j := range work {
			if s.hopeless(j) {
				continue
			}
			out, ok := s.squeezeIn(j)
			if !ok {
				s.stop = append(s.stop, failure{s.window[j], s.need[j], s.jobs[j].Priority})
				continue
			}
			any = true
			s.stop = s.stop[:0]
			bumped = append(bumped, out...)
		}
		work = bumped
	}
	return any
}

// missed lists the jobs that have no week in time, in order of rank. Jobs whose
// window has no open week, or none that could hold them, are among them.
func (s *state) missed() []int {
	var out []int
	for _, j := range s.order {
		if s.at[j] == none {
			out = append(out, j)
		}
	}
	return out
}

func (s *state) hopeless(j int) bool {
	if !s.possible[j] {
		return true
	}
	for _, f := range s.stop {
		if s.window[j].within(f.w) && s.need[j].atLeast(f.need) && s.jobs[j].Priority <= f.priority {
			return true
		}
	}
	return false
}

// squeezeIn gets one job in and returns those that lost their week for it.
func (s *state) squeezeIn(j int) ([]int, bool) {
	i := s.nearest(j, s.calm)
	if i == none && s.jobs[j].Overdue {
		i = s.nearest(j, s.room)
	}
	if i == none {
		i = s.emptiest(j)
	}
	if i != none {
		s.put(j, i)
		return nil, true
	}
	if s.makeRoom(j) {
		return nil, true
	}
	return s.displace(j)
}

// displace gives j the hours of less important jobs: in the week where the most
// important of those that must go matters least.
func (s *state) displace(j int) ([]int, bool) {
	var best []int
	week := none
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		out, ok := s.wouldGo(j, i, func(int) bool { return true })
		if ok && (week == none || s.costs(out, best) < 0) {
			best, week = out, i
		}
	}
	if week == none {
		return nil, false
	}
	for _, k := range best {
		s.leave(k, LostHours)
	}
	s.put(j, week)
	return best, true
}

// wouldGo lists the jobs that would have to leave a week for j, among those
// that may: the least important first, until there is room. Some of those may find
// that they fit again.
func (s *state) wouldGo(j, i int, may func(k int) bool) ([]int, bool) {
	var less []int
	for _, k := range s.member[i] {
		if s.jobs[k].Priority < s.jobs[j].Priority && may(k) {
			less = append(less, k)
		}
	}
	slices.SortFunc(less, func(x, y int) int {
		return cmp.Or(cmp.Compare(s.jobs[x].Priority, s.jobs[y].Priority),
			falseFirst(s.jobs[x].Told, s.jobs[y].Told),
			s.bySize(y, x), cmp.Compare(s.rank[y], s.rank[x]))
	})
	var gone byDay
	for n, k := range less {
		s.count(&gone, k, i)
		if s.fitsWithout(j, i, s.room, &gone) {
			return less[:n+1], true
		}
	}
	return nil, false
}

// costs compares two sets of jobs that would go.
func (s *state) costs(x, y []int) int {
	worst := func(jobs []int) (priority, told int) {
		for k, j := range jobs {
			if k == 0 || s.jobs[j].Priority > priority {
				priority = s.jobs[j].Priority
			}
			if s.jobs[j].Told {
				told++
			}
		}
		return priority, told
	}
	px, tx := worst(x)
	py, ty := worst(y)
	return cmp.Or(cmp.Compare(px, py), cmp.Compare(tx, ty), cmp.Compare(len(x), len(y)))
}

// depth is how many jobs may move in turn in a search that leaves nothing out.
// In a large shop a week holds so many visits that some of them have the right
// length, and [state.augmentingPath] is enough; in a small one a few long visits are a
// puzzle, and cheap enough to look through. It depends on the number of jobs alone, so that a plan fitted again is searched
// as far as before.
func (s *state) depth() int {
	switch n := len(s.jobs); {
	case n <= 32:
		return 5
	case n <= 64:
		return 3
	case n <= 2000:
		return 2
	}
	return 1
}

// makeRoom moves other jobs to other weeks in their own time, so that j gets
// in: as few as possible, and jobs whose customers were told only if nothing
// else will do.
func (s *state) makeRoom(j int) bool {
	for _, told := range []bool{false, true} {
		if told && !s.anyTold {
			break // as before
		}
		if s.shift(j, told) {
			return true
		}
		for d := 2; d <= s.depth(); d++ {
			if s.moveChain(j, d, told, map[int]bool{}) {
				return true
			}
		}
		if s.augmentingPath(j, told) || len(s.jobs) <= chainsMost && s.replacePair(j, told) {
			return true
		}
	}
	return false
}

// replacePair moves two jobs of a week elsewhere to let in one that is longer
// than each.
func (s *state) replacePair(j int, told bool) bool {
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		jobs := slices.SortedFunc(slices.Values(s.member[i]), func(x, y int) int { return s.movesBefore(y, x) })
		for a, k := range jobs {
			for _, m := range jobs[a+1:] {
				if !told && (s.wasTold(k) || s.wasTold(m)) {
					continue
				}
				prior := [2]bool{s.inPrior(k), s.inPrior(m)}
				if !s.replace(j, i, k, m) {
					continue
				}
				for n, o := range []int{k, m} {
					if prior[n] {
						s.cause[o] = MadeRoom
					}
				}
				return true
			}
		}
	}
	return false
}

// replace puts job j into week i in place of others, which go where they leave
// weeks the emptiest; if one finds no place, everything is as before.
func (s *state) replace(j, i int, out ...int) bool {
	for _, o := range out {
		s.take(o)
	}
	done := 0
	if s.fits(j, i, s.room) {
		s.put(j, i)
		for _, o := range out {
			at := s.emptiest(o)
			if at == none {
				break
			}
			s.put(o, at)
			done++
		}
		if done == len(out) {
			return true
		}
		s.take(j)
	}
	for _, o := range out[:done] {
		s.take(o)
	}
	for _, o := range out {
		s.put(o, i)
	}
	return false
}

// shift moves the one job that it matters least to move.
func (s *state) shift(j int, told bool) bool {
	best, to := none, none
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		for _, k := range s.member[i] {
			if !s.fitsFor(j, i, k) || s.wasTold(k) && !told || best != none && s.movesBefore(k, best) >= 0 {
				continue
			}
			if t := s.emptiest(k); t != none {
				best, to = k, t
			}
		}
	}
	if best == none {
		return false
	}
	i := s.at[best]
	s.move(best, to, MadeRoom)
	s.put(j, i)
	return true
}

// moveChain lets j take the place of another job, that one of a third and so on,
// until the last finds room; if it finds none, everything is as before. The
// jobs in held have moved already.
func (s *state) moveChain(j, depth int, told bool, held map[int]bool) bool {
	if i := s.emptiest(j); i != none {
		s.put(j, i)
		return true
	}
	if depth == 0 {
		return false
	}
	held[j] = true
	defer delete(held, j)
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		for _, k := range slices.SortedFunc(slices.Values(s.member[i]), s.movesBefore) {
			if held[k] || s.wasTold(k) && !told || !s.fitsFor(j, i, k) {
				continue
			}
			s.leave(k, MadeRoom)
			s.put(j, i)
			if s.moveChain(k, depth-1, told, held) {
				return true
			}
			s.take(j)
			s.put(k, i)
		}
	}
	return false
}

// movesBefore orders jobs by how little it matters to move them.
func (s *state) movesBefore(x, y int) int {
	px, py := s.inPrior(x), s.inPrior(y)
	return cmp.Or(
		falseFirst(s.wasTold(x), s.wasTold(y)),
		falseFirst(px, py),
		s.bySize(x, y),
		cmp.Compare(s.rank[x], s.rank[y]),
	)
}

// step is how a search reached a week: a job that lies in week from would move
// here. From none it is the job that wants to get in.
type step struct{ job, from int }

// augmentingPath lets j in by a chain of moves over as many weeks as it takes: j pushes
// a job to another week, that one pushes another, until one finds room. It
// looks at each week once, nearest first, which finds the shortest chain of
// weeks but, as lengths differ, not every chain that there is; [state.moveChain]
// does that for small shops.
func (s *state) augmentingPath(j int, told bool) bool {
	reached := make([]step, len(s.weeks))
	for i := range reached {
		reached[i] = step{none, none}
	}
	var line []int // weeks to look at
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		reached[i] = step{j, none}
		line = append(line, i)
	}
	for len(line) > 0 {
		i := line[0]
		line = line[1:]
		for _, to := range s.pushOn(i, told, reached) {
			if s.fits(reached[to].job, to, s.room) {
				s.follow(reached, to)
				return true
			}
			line = append(line, to)
		}
	}
	return false
}

// pushOn marks the weeks that jobs of week i could move to if the job that
// reached i came in: for each week the job that it matters least to move. It
// returns the weeks that are new.
func (s *state) pushOn(i int, told bool, reached []step) []int {
	var found []int
	for _, k := range s.member[i] {
		if !told && s.wasTold(k) || !s.fitsFor(reached[i].job, i, k) {
			continue
		}
		for to := s.window[k].lo; to <= s.window[k].hi; to++ {
			switch at := reached[to]; {
			case at.job == none:
				found = append(found, to)
			case at.from != i || s.movesBefore(k, at.job) >= 0:
				continue
			}
			reached[to] = step{k, i}
		}
	}
	slices.Sort(found)
	return found
}

// follow makes the moves of a search, from the week with room back to the job
// that gets in.
func (s *state) follow(reached []step, to int) {
	for at := reached[to]; ; at = reached[to] {
		if at.from == none {
			s.put(at.job, to)
			return
		}
		s.move(at.job, to, MadeRoom)
		to = at.from
	}
}

// tolerance is how far above its ceiling a week may be, as a share of its
// capacity, before jobs that lie in it are moved for the sake of an even load.
// A customer's week is worth more than a perfectly level picture. Common
// practice, no source.
const tolerance = 0.1

// rebalance moves jobs out of weeks that are too full into weeks that stay below
// their ceiling: the longest first, so that the fewest move, and never one
// whose customer was told.
func (s *state) rebalance() bool {
	any := false
	for i := range s.weeks {
		if !s.tooFull(i) {
			continue
		}
		jobs := slices.SortedFunc(slices.Values(s.member[i]), func(x, y int) int { return s.movesBefore(y, x) })
		for _, j := range jobs {
			if !s.tooFull(i) {
				break
			}
			if s.wasTold(j) || s.need[j] == (Amounts{}) {
				continue
			}
			if to := s.nearest(j, s.calm); to != none {
				s.move(j, to, Evened)
				any = true
			}
		}
	}
	return any
}

// tooFull reports whether a week is above its ceiling by more than the
// tolerance.
func (s *state) tooFull(i int) bool {
	for r := range s.kinds {
		if s.booked[i][r]+s.load[i][6][r] > shareOf(s.total[i][r], s.share[i]+tolerance) && s.load[i][6][r] > 0 {
			return true
		}
	}
	return false
}
