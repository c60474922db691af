package level

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
)

// none is the week index of a job that has no week.
const none = -1

// state is how things stand in the course of one fitting. Weeks are counted by index among the open
// ones, so that a closed week costs nothing and a window is a plain interval.
type state struct {
	weeks   []Capacity // open weeks, in order of time
	shut    []Capacity // closed weeks
	jobs    []Job
	size    []int     // minutes of each job, not negative
	window  []window  // of each job
	fits    []bool    // some week of the window could hold the job beside booked work
	rank    []int     // place of each job in the order of deadline, priority, ID
	order   []int     // the jobs in that order
	at      []int     // week of each job, or none
	seat    []int     // place of each job among its week's members
	cause   []Reason  // why a job lost the week it had
	load    []int     // booked and placed minutes of each week
	member  [][]int   // jobs of each week, in no particular but in a definite order
	ceil    []int     // what each week should hold at most, booked work included
	anyTold bool      // some customer was told a week
	stop    []failure // repairs known to be hopeless as things stand
}

// window is the open weeks lo..hi in which a job is in time; lo > hi if none.
// Then lo is still the first week that could take it.
type window struct{ lo, hi int }

func (w window) empty() bool          { return w.lo > w.hi }
func (w window) holds(i int) bool     { return w.lo <= i && i <= w.hi }
func (w window) within(o window) bool { return o.lo <= w.lo && w.hi <= o.hi }

func newState(weeks []Capacity, jobs []Job) *state {
	s := &state{
		jobs: jobs, size: make([]int, len(jobs)), window: make([]window, len(jobs)),
		fits: make([]bool, len(jobs)), rank: make([]int, len(jobs)), order: make([]int, len(jobs)),
		at: make([]int, len(jobs)), seat: make([]int, len(jobs)), cause: make([]Reason, len(jobs)),
	}
	s.openWeeks(weeks)
	for j := range jobs {
		s.size[j] = max(jobs[j].Minutes, 0)
		s.window[j] = s.windowOf(&jobs[j])
		s.at[j] = none
		s.anyTold = s.anyTold || jobs[j].Told
		s.order[j] = j
		for i := s.window[j].lo; i <= s.window[j].hi && !s.fits[j]; i++ {
			s.fits[j] = s.room(i) >= s.size[j]
		}
	}
	slices.SortFunc(s.order, func(x, y int) int {
		p, q := &jobs[x], &jobs[y]
		return cmp.Or(cmp.Compare(p.Deadline, q.Deadline), cmp.Compare(q.Priority, p.Priority),
			cmp.Compare(p.ID, q.ID), cmp.Compare(x, y))
	})
	for r, j := range s.order {
		s.rank[j] = r
	}
	return s
}

// openWeeks sorts the weeks, merges doubles and parts the open from the closed.
func (s *state) openWeeks(weeks []Capacity) {
	all := slices.SortedFunc(slices.Values(weeks), func(x, y Capacity) int { return cmp.Compare(x.Week, y.Week) })
	for k := 0; k < len(all); {
		w := Capacity{Week: all[k].Week}
		for ; k < len(all) && all[k].Week == w.Week; k++ {
			w.Capacity += max(all[k].Capacity, 0)
			w.Booked += max(all[k].Booked, 0)
		}
		if w.Capacity > 0 {
			s.weeks = append(s.weeks, w)
			s.load = append(s.load, w.Booked)
		} else {
			s.shut = append(s.shut, w)
		}
	}
	s.member = make([][]int, len(s.weeks))
	s.ceil = make([]int, len(s.weeks))
}

// windowOf finds the open weeks in which the job is in time.
func (s *state) windowOf(j *Job) window {
	lo := s.firstFrom(j.First)
	hi := s.firstFrom(j.Deadline+1) - 1
	return window{lo, hi}
}

// firstFrom is the first open week not before w; len(weeks) if there is none.
func (s *state) firstFrom(w civil.Week) int {
	i, _ := slices.BinarySearchFunc(s.weeks, w, func(x Capacity, w civil.Week) int { return cmp.Compare(x.Week, w) })
	return i
}

// indexOf finds an open week; none if w is none or closed.
func (s *state) indexOf(w civil.Week) int {
	if i := s.firstFrom(w); i < len(s.weeks) && s.weeks[i].Week == w {
		return i
	}
	return none
}

// room is what the week can still hold within its capacity.
func (s *state) room(i int) int { return max(s.weeks[i].Capacity-s.load[i], 0) }

// calmRoom is what the week can still hold within its ceiling.
func (s *state) calmRoom(i int) int { return max(s.ceil[i]-s.load[i], 0) }

// put gives a job a week.
func (s *state) put(j, i int) {
	s.at[j] = i
	s.seat[j] = len(s.member[i])
	s.member[i] = append(s.member[i], j)
	s.load[i] += s.size[j]
}

// take takes the job out of its week.
func (s *state) take(j int) {
	i := s.at[j]
	m := s.member[i]
	last := m[len(m)-1]
	m[s.seat[j]] = last
	s.seat[last] = s.seat[j]
	s.member[i] = m[:len(m)-1]
	s.load[i] -= s.size[j]
	s.at[j] = none
}

// move takes a job to another week and remembers why, if it had that week.
func (s *state) move(j, i int, why Reason) {
	s.leave(j, why)
	s.put(j, i)
}

// leave takes a job out of its week and remembers why, if it had that week.
func (s *state) leave(j int, why Reason) {
	if s.inPrior(j) {
		s.cause[j] = why
	}
	s.take(j)
}

// inPrior reports whether the job lies in the week that it had before.
func (s *state) inPrior(j int) bool {
	return s.at[j] != none && s.weeks[s.at[j]].Week == s.jobs[j].Prior
}

// off is how many weeks a week lies from where the job would best be: where the
// customer was told, else where it wishes to be, else as early as can be.
func (s *state) off(j, i int) int {
	job := s.jobs[j]
	if job.Told && job.Prior != 0 {
		job.Wish = job.Prior
	}
	return distance(job, s.weeks[i].Week)
}
