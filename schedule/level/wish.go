package level

// wishPasses bounds how often the jobs are asked again where they would rather
// be. A job that moves leaves room for another; after a few rounds next to
// nothing moves any more.
const wishPasses = 4

// followWishes moves the jobs that are new in their week towards the week that
// wastes least, within the ceilings. Serving by deadline has put them early,
// which is safe but does work before its time.
func (b *board) followWishes() {
	for range wishPasses {
		moved := false
		for _, j := range b.order {
			if b.at[j] == nowhere || b.inPrior(j) {
				continue
			}
			if i := b.nearest(j, b.calmRoom); i != nowhere && b.off(j, i) < b.off(j, b.at[j]) {
				b.take(j)
				b.put(j, i)
				moved = true
			}
		}
		if !moved {
			return
		}
	}
}

// nearest is the week of the job's window, its own left out, that has room for
// it and lies nearest to where it would best be; of two the earlier.
func (b *board) nearest(j int, room func(i int) int) int {
	best, bestOff := nowhere, 0
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		if i == b.at[j] || room(i) < b.size[j] {
			continue
		}
		if off := b.off(j, i); best == nowhere || off < bestOff {
			best, bestOff = i, off
		}
	}
	return best
}
