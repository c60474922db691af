package level

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
)

// nowhere is the week index of a job that has no week.
const nowhere = -1

// board is the state of one fitting. Weeks are counted by index among the open
// ones, so that a closed week costs nothing and a window is a plain interval.
type board struct {
	weeks   []Week // open weeks, in order of time
	shut    []Week // closed weeks
	jobs    []Job
	size    []int     // minutes of each job, not negative
	window  []window  // of each job
	fits    []bool    // some week of the window could hold the job beside booked work
	rank    []int     // place of each job in the order of deadline, priority, ID
	order   []int     // the jobs in that order
	at      []int     // week of each job, or nowhere
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

func newBoard(weeks []Week, jobs []Job) *board {
	b := &board{
		jobs: jobs, size: make([]int, len(jobs)), window: make([]window, len(jobs)),
		fits: make([]bool, len(jobs)), rank: make([]int, len(jobs)), order: make([]int, len(jobs)),
		at: make([]int, len(jobs)), seat: make([]int, len(jobs)), cause: make([]Reason, len(jobs)),
	}
	b.openWeeks(weeks)
	for j := range jobs {
		b.size[j] = max(jobs[j].Minutes, 0)
		b.window[j] = b.windowOf(&jobs[j])
		b.at[j] = nowhere
		b.anyTold = b.anyTold || jobs[j].Told
		b.order[j] = j
		for i := b.window[j].lo; i <= b.window[j].hi && !b.fits[j]; i++ {
			b.fits[j] = b.room(i) >= b.size[j]
		}
	}
	slices.SortFunc(b.order, func(x, y int) int {
		p, q := &jobs[x], &jobs[y]
		return cmp.Or(cmp.Compare(p.Deadline, q.Deadline), cmp.Compare(q.Priority, p.Priority),
			cmp.Compare(p.ID, q.ID), cmp.Compare(x, y))
	})
	for r, j := range b.order {
		b.rank[j] = r
	}
	return b
}

// openWeeks sorts the weeks, merges doubles and parts the open from the closed.
func (b *board) openWeeks(weeks []Week) {
	all := slices.SortedFunc(slices.Values(weeks), func(x, y Week) int { return cmp.Compare(x.Week, y.Week) })
	for k := 0; k < len(all); {
		w := Week{Week: all[k].Week}
		for ; k < len(all) && all[k].Week == w.Week; k++ {
			w.Capacity += max(all[k].Capacity, 0)
			w.Booked += max(all[k].Booked, 0)
		}
		if w.Capacity > 0 {
			b.weeks = append(b.weeks, w)
			b.load = append(b.load, w.Booked)
		} else {
			b.shut = append(b.shut, w)
		}
	}
	b.member = make([][]int, len(b.weeks))
	b.ceil = make([]int, len(b.weeks))
}

// windowOf finds the open weeks in which the job is in time.
func (b *board) windowOf(j *Job) window {
	lo := b.firstFrom(j.First)
	hi := b.firstFrom(j.Deadline+1) - 1
	return window{lo, hi}
}

// firstFrom is the first open week not before w; len(weeks) if there is none.
func (b *board) firstFrom(w civil.Week) int {
	i, _ := slices.BinarySearchFunc(b.weeks, w, func(x Week, w civil.Week) int { return cmp.Compare(x.Week, w) })
	return i
}

// indexOf finds an open week; nowhere if w is none or closed.
func (b *board) indexOf(w civil.Week) int {
	if i := b.firstFrom(w); i < len(b.weeks) && b.weeks[i].Week == w {
		return i
	}
	return nowhere
}

// room is what the week can still hold within its capacity.
func (b *board) room(i int) int { return max(b.weeks[i].Capacity-b.load[i], 0) }

// calmRoom is what the week can still hold within its ceiling.
func (b *board) calmRoom(i int) int { return max(b.ceil[i]-b.load[i], 0) }

// put gives a job a week.
func (b *board) put(j, i int) {
	b.at[j] = i
	b.seat[j] = len(b.member[i])
	b.member[i] = append(b.member[i], j)
	b.load[i] += b.size[j]
}

// take takes the job out of its week.
func (b *board) take(j int) {
	i := b.at[j]
	m := b.member[i]
	last := m[len(m)-1]
	m[b.seat[j]] = last
	b.seat[last] = b.seat[j]
	b.member[i] = m[:len(m)-1]
	b.load[i] -= b.size[j]
	b.at[j] = nowhere
}

// move takes a job to another week and remembers why, if it had that week.
func (b *board) move(j, i int, why Reason) {
	b.leave(j, why)
	b.put(j, i)
}

// leave takes a job out of its week and remembers why, if it had that week.
func (b *board) leave(j int, why Reason) {
	if b.inPrior(j) {
		b.cause[j] = why
	}
	b.take(j)
}

// inPrior reports whether the job lies in the week that it had before.
func (b *board) inPrior(j int) bool {
	return b.at[j] != nowhere && b.weeks[b.at[j]].Week == b.jobs[j].Prior
}

// off is how many weeks a week lies from where the job would best be: where the
// customer was told, else where it wishes to be, else as early as can be.
func (b *board) off(j, i int) int {
	job := b.jobs[j]
	if job.Told && job.Prior != 0 {
		job.Wish = job.Prior
	}
	return distance(job, b.weeks[i].Week)
}
