package level

import "slices"

// tolerance is how far above its ceiling a week may be, as a share of its
// capacity, before jobs that lie in it are moved for the sake of an even load.
// A customer's week is worth more than a perfectly level picture. Common
// practice, no source.
const tolerance = 0.1

// even moves jobs out of weeks that are too full into weeks that stay below
// their ceiling: the longest first, so that the fewest move, and never one
// whose customer was told.
func (b *board) even() bool {
	any := false
	for i, w := range b.weeks {
		limit := b.ceil[i] + shareOf(w.Capacity, tolerance)
		if b.load[i] <= limit {
			continue
		}
		jobs := slices.SortedFunc(slices.Values(b.member[i]), func(x, y int) int { return b.movesBefore(y, x) })
		for _, j := range jobs {
			if b.load[i] <= limit {
				break
			}
			if b.wasTold(j) || b.size[j] == 0 {
				continue
			}
			if to := b.nearest(j, b.calmRoom); to != nowhere {
				b.move(j, to, Evened)
				any = true
			}
		}
	}
	return any
}
