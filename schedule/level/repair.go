package level

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
		b.mostImportantFirst(work)
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
