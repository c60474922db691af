package level

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
)

// soonerWeeks is how much sooner a late job must be able to come before it
// leaves the late week that it had. Common practice, no source.
const soonerWeeks = 4

// placeLate gives the jobs that cannot be in time the first week with room
// after their deadline, the most important first. A job that was late before
// keeps its week if it can and gains little by leaving it; one whose customer
// was told keeps it before anybody else chooses.
func (b *board) placeLate() {
	late := b.missed()
	for _, j := range late {
		if i := b.latePrior(j); i != nowhere && b.jobs[j].Told {
			b.put(j, i)
		}
	}
	late = slices.DeleteFunc(late, func(j int) bool { return b.at[j] != nowhere })
	slices.SortFunc(late, func(x, y int) int {
		return cmp.Or(cmp.Compare(b.jobs[y].Priority, b.jobs[x].Priority), cmp.Compare(b.rank[x], b.rank[y]))
	})
	for _, j := range late {
		i := b.firstLate(j)
		if p := b.latePrior(j); p != nowhere && b.weeks[p].Week-b.weeks[i].Week < civil.Week(soonerWeeks) {
			i = p
		}
		if i != nowhere {
			b.put(j, i)
		}
	}
}

// firstLate is the first week after the job's time that has room for it.
func (b *board) firstLate(j int) int {
	for i := max(b.window[j].lo, b.window[j].hi+1); i < len(b.weeks); i++ {
		if b.room(i) >= b.size[j] {
			return i
		}
	}
	return nowhere
}

// latePrior is the week that the job had before, if that lies after its time
// and still has room for it.
func (b *board) latePrior(j int) int {
	job := &b.jobs[j]
	i := b.indexOf(job.Prior)
	if i == nowhere || job.Prior <= job.Deadline || job.Prior < job.First || b.room(i) < b.size[j] {
		return nowhere
	}
	return i
}
