package level

import (
	"cmp"
	"math"
	"slices"
)

// soonerWeeks is how much sooner a late job must be able to come before it
// leaves the late week that it had. Common practice, no source.
const soonerWeeks = 4

// placeLate gives weeks to the jobs that cannot be in time. Those that were
// late before keep their weeks, who was told first; the others take the first
// week with room, the most important first, and may send on a less important
// late job. It never touches a job that is in time.
func (b *board) placeLate() {
	late := b.missed()
	b.mostImportantFirst(late)
	lowest := make([]int, len(b.weeks)) // no late job of a week matters less than this
	for i := range lowest {
		lowest[i] = math.MaxInt
	}
	for _, told := range []bool{true, false} {
		for _, j := range late {
			if i := b.latePrior(j); i != nowhere && b.jobs[j].Told == told {
				b.put(j, i)
				lowest[i] = min(lowest[i], b.jobs[j].Priority)
			}
		}
	}
	work := slices.DeleteFunc(slices.Clone(late), func(j int) bool { return b.at[j] != nowhere })
	for len(work) > 0 {
		b.mostImportantFirst(work)
		var sentOn []int
		for _, j := range work {
			sentOn = append(sentOn, b.joinLate(j, lowest)...)
		}
		work = sentOn
	}
	for b.comeSooner(late) {
	}
}

func (b *board) mostImportantFirst(jobs []int) {
	slices.SortFunc(jobs, func(x, y int) int {
		return cmp.Or(cmp.Compare(b.jobs[y].Priority, b.jobs[x].Priority), cmp.Compare(b.rank[x], b.rank[y]))
	})
}

// latePrior is the week that the job had before, if that lies after its time
// and still has room for it.
func (b *board) latePrior(j int) int {
	job := &b.jobs[j]
	i := b.indexOf(job.Prior)
	if b.at[j] != nowhere || i == nowhere || i < b.afterTime(j) || i >= b.tooLate(j) || b.room(i) < b.size[j] {
		return nowhere
	}
	return i
}

// afterTime is the first week that is possible for the job and too late.
func (b *board) afterTime(j int) int { return max(b.window[j].lo, b.window[j].hi+1) }

// tooLate is the first week in which even a late job makes no more sense.
func (b *board) tooLate(j int) int {
	if last := b.jobs[j].Last; last != 0 {
		return b.firstFrom(last + 1)
	}
	return len(b.weeks)
}

// joinLate puts the job into the first week after its time that has room or
// can get it from less important late jobs, and returns those. A job whose last
// sensible week goes by stays without a week.
func (b *board) joinLate(j int, lowest []int) []int {
	for i := b.afterTime(j); i < b.tooLate(j); i++ {
		var out []int
		ok := b.room(i) >= b.size[j]
		if !ok && lowest[i] < b.jobs[j].Priority {
			out, ok = b.wouldGo(j, i, func(k int) bool { return i >= b.afterTime(k) && !b.wasTold(k) })
		}
		if !ok {
			continue
		}
		for _, k := range out {
			b.leave(k, LostHours)
		}
		b.put(j, i)
		lowest[i] = min(lowest[i], b.jobs[j].Priority)
		return out
	}
	return nil
}

// comeSooner moves late jobs to weeks that are a good deal sooner, if there is
// room by now, and reports whether there was.
func (b *board) comeSooner(late []int) bool {
	any := false
	for _, j := range late {
		if b.at[j] == nowhere || b.wasTold(j) {
			continue
		}
		for i := b.afterTime(j); i < b.at[j] && b.weeks[i].Week <= b.weeks[b.at[j]].Week-soonerWeeks; i++ {
			if b.room(i) >= b.size[j] {
				b.move(j, i, LostHours)
				any = true
				break
			}
		}
	}
	return any
}
