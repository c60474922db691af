package level

import (
	"cmp"
	"slices"
)

// failure is a repair that was tried in vain: as long as no week gains room,
// a job with no wider window, no less work and no higher priority fails too.
type failure struct {
	w              window
	size, priority int
}

// repairRounds bounds how often repairing and evening out take turns.
const repairRounds = 8

// settle gives weeks to the jobs that are still without one and evens out what
// is too full, until neither finds anything to do.
func (b *board) settle() {
	for range repairRounds {
		repaired := b.repair()
		if evened := b.even(); !repaired && !evened {
			return
		}
	}
}

// repair tries to get the jobs without a week in after all: into a week with
// room, else by moving one other job that can go elsewhere in time, else at the
// cost of less important ones. Those then look for a week in turn.
func (b *board) repair() bool {
	any := false
	b.stop = b.stop[:0]
	for work := b.missed(); len(work) > 0; {
		slices.SortFunc(work, func(x, y int) int {
			return cmp.Or(cmp.Compare(b.jobs[y].Priority, b.jobs[x].Priority), cmp.Compare(b.rank[x], b.rank[y]))
		})
		var bumped []int
		for _, j := range work {
			if b.hopeless(j) {
				continue
			}
			out, ok := b.squeezeIn(j)
			if !ok {
				b.stop = append(b.stop, failure{b.window[j], b.size[j], b.jobs[j].Priority})
				continue
			}
			any = true
			b.stop = b.stop[:0]
			bumped = append(bumped, out...)
		}
		work = bumped
	}
	return any
}

// missed lists the jobs that have no week in time, in order of rank. Jobs whose
// window has no open week, or none that could hold them, are among them.
func (b *board) missed() []int {
	var out []int
	for _, j := range b.order {
		if b.at[j] == nowhere {
			out = append(out, j)
		}
	}
	return out
}

func (b *board) hopeless(j int) bool {
	if !b.fits[j] {
		return true
	}
	for _, f := range b.stop {
		if b.window[j].within(f.w) && b.size[j] >= f.size && b.jobs[j].Priority <= f.priority {
			return true
		}
	}
	return false
}

// squeezeIn gets one job in and returns those that lost their week for it.
func (b *board) squeezeIn(j int) ([]int, bool) {
	i := b.nearest(j, b.calmRoom)
	if i == nowhere {
		i = b.emptiest(j)
	}
	if i != nowhere {
		b.put(j, i)
		return nil, true
	}
	if b.makeRoom(j) {
		return nil, true
	}
	return b.bump(j)
}

// emptiest is the week of the job's window that stays the least full with it,
// within capacity; of equals the earliest.
func (b *board) emptiest(j int) int {
	best, bestUse := nowhere, 0.0
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		if i == b.at[j] || b.room(i) < b.size[j] {
			continue
		}
		use := float64(b.load[i]+b.size[j]) / float64(b.weeks[i].Capacity)
		if best == nowhere || use < bestUse {
			best, bestUse = i, use
		}
	}
	return best
}

// makeRoom moves one other job to another week in its own time, so that j gets
// in. It would rather move one that is new in its week than one that lay there
// before, and one whose customer was told only if nothing else will do.
func (b *board) makeRoom(j int) bool {
	best, to := nowhere, nowhere
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		for _, k := range b.member[i] {
			if b.room(i)+b.size[k] < b.size[j] || best != nowhere && b.movesBefore(k, best) >= 0 {
				continue
			}
			if t := b.emptiest(k); t != nowhere {
				best, to = k, t
			}
		}
	}
	if best == nowhere {
		return false
	}
	i := b.at[best]
	b.move(best, to, MadeRoom)
	b.put(j, i)
	return true
}

// movesBefore orders jobs by how little it matters to move them.
func (b *board) movesBefore(x, y int) int {
	px, py := b.inPrior(x), b.inPrior(y)
	return cmp.Or(
		falseFirst(px && b.jobs[x].Told, py && b.jobs[y].Told),
		falseFirst(px, py),
		cmp.Compare(b.size[x], b.size[y]),
		cmp.Compare(b.rank[x], b.rank[y]),
	)
}

// bump gives j the hours of less important jobs: in the week where the most
// important of those that must go matters least.
func (b *board) bump(j int) ([]int, bool) {
	var best []int
	week := nowhere
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		out, ok := b.wouldGo(j, i)
		if ok && (week == nowhere || b.costs(out, best) < 0) {
			best, week = out, i
		}
	}
	if week == nowhere {
		return nil, false
	}
	for _, k := range best {
		b.leave(k, LostHours)
	}
	b.put(j, week)
	return best, true
}

// wouldGo lists the jobs that would have to leave a week for j: the least
// important first, and no more than needed.
func (b *board) wouldGo(j, i int) ([]int, bool) {
	var less []int
	for _, k := range b.member[i] {
		if b.jobs[k].Priority < b.jobs[j].Priority {
			less = append(less, k)
		}
	}
	slices.SortFunc(less, func(x, y int) int {
		return cmp.Or(cmp.Compare(b.jobs[x].Priority, b.jobs[y].Priority),
			falseFirst(b.jobs[x].Told, b.jobs[y].Told),
			cmp.Compare(b.size[y], b.size[x]), cmp.Compare(b.rank[y], b.rank[x]))
	})
	need := b.size[j] - b.room(i)
	for n, k := range less {
		if need -= b.size[k]; need <= 0 {
			return b.spared(less[:n+1], -need), true
		}
	}
	return nil, false
}

// spared drops from the jobs that would go those that need not, given the
// minutes that going together would free in excess; the most important stay
// first.
func (b *board) spared(out []int, excess int) []int {
	for n := len(out) - 2; n >= 0; n-- {
		if s := b.size[out[n]]; s <= excess {
			excess -= s
			out = slices.Delete(out, n, n+1)
		}
	}
	return out
}

// costs compares two sets of jobs that would go.
func (b *board) costs(x, y []int) int {
	worst := func(jobs []int) (priority, told int) {
		for k, j := range jobs {
			if k == 0 || b.jobs[j].Priority > priority {
				priority = b.jobs[j].Priority
			}
			if b.jobs[j].Told {
				told++
			}
		}
		return priority, told
	}
	px, tx := worst(x)
	py, ty := worst(y)
	return cmp.Or(cmp.Compare(px, py), cmp.Compare(tx, ty), cmp.Compare(len(x), len(y)))
}
