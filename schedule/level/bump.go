package level

import (
	"cmp"
	"slices"
)

// bump gives j the hours of less important jobs: in the week where the most
// important of those that must go matters least.
func (b *board) bump(j int) ([]int, bool) {
	var best []int
	week := nowhere
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		out, ok := b.wouldGo(j, i, func(int) bool { return true })
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

// wouldGo lists the jobs that would have to leave a week for j, among those
// that may: the least important first, until there is room. Some of those may find
// that they fit again.
func (b *board) wouldGo(j, i int, may func(k int) bool) ([]int, bool) {
	var less []int
	for _, k := range b.member[i] {
		if b.jobs[k].Priority < b.jobs[j].Priority && may(k) {
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
			return less[:n+1], true
		}
	}
	return nil, false
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
