package level

import (
	"cmp"
	"slices"
)

// keepPrior leaves jobs in the week they had, as far as that week is possible
// for them and holds them within its capacity; whether a week is too full for
// comfort is looked at later, see [board.even].
func (b *board) keepPrior() {
	back := make([][]int, len(b.weeks))
	for _, j := range b.order {
		if b.jobs[j].Prior == 0 {
			continue
		}
		b.cause[j] = NewWindow
		i := b.indexOf(b.jobs[j].Prior)
		if i == nowhere || b.window[j].holds(i) {
			b.cause[j] = LostHours
		}
		if i != nowhere && b.window[j].holds(i) {
			back[i] = append(back[i], j)
		}
	}
	for i, jobs := range back {
		slices.SortStableFunc(jobs, b.staysBefore)
		for _, j := range jobs {
			if b.size[j] <= b.room(i) {
				b.put(j, i)
			}
		}
	}
}

// staysBefore orders the jobs of a week that may have become too small: who was
// told stays before who was not, who can go nowhere else before who can, and
// the short before the long, because letting go of the long takes the fewest.
func (b *board) staysBefore(x, y int) int {
	return cmp.Or(
		falseFirst(!b.jobs[x].Told, !b.jobs[y].Told),
		falseFirst(b.window[x].lo < b.window[x].hi, b.window[y].lo < b.window[y].hi),
		cmp.Compare(b.size[x], b.size[y]),
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
