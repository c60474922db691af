package level

import "math"

// ease is the share of its capacity up to which a week need not be evened out:
// half a week's work is calm enough, and a visit there is better off at its
// wish. It never raises the fullest week. Common practice, no source.
const ease = 0.5

// setCeilings decides how much each week should hold. It looks at the work
// alone and not at where it lay before, so that a plan fitted again has the
// same ceilings.
func (b *board) setCeilings() {
	d, most := newDemand(len(b.weeks)), 0
	for j := range b.jobs {
		if b.fits[j] {
			d.add(b.window[j], b.size[j])
			most = max(most, b.size[j])
		}
	}
	full := make([]int, len(b.weeks))
	for i, w := range b.weeks {
		full[i] = w.Capacity
	}
	copy(b.ceil, full)
	calm, short := b.profile(d)
	// Weeks that are too full even if visits may be split go up to their
	// capacity. The rest of the year is levelled all the same, for the jobs that
	// have nothing to do with those weeks.
	counts := func(j int) bool { return b.fits[j] && short[b.window[j].hi+1] == short[b.window[j].lo] }
	if short[len(b.weeks)] > 0 {
		most = 0
		for j := range b.jobs {
			if counts(j) {
				most = max(most, b.size[j])
			}
		}
	}
	q := b.newQueue(counts)
	try := func(extra int) bool {
		for i := range calm {
			b.ceil[i] = min(full[i], calm[i]+extra)
		}
		return q.feasible(b.calmRooms())
	}
	lo, hi := -1, max(most-1, 0) // lo fails or was not asked, hi holds
	if !try(hi) {
		return // whole visits do not pack: repair may use the full capacity
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; try(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	try(hi)
}

func (b *board) calmRooms() []int {
	r := make([]int, len(b.weeks))
	for i := range r {
		r[i] = b.calmRoom(i)
	}
	return r
}

// profile spreads the work as evenly as it goes if visits could be split: the
// interval of weeks that is hardest pressed gets the smallest share of its
// capacity that will do; then the rest of the weeks is levelled without it, and
// so on. This is how the most even speed of a machine is found for jobs with
// windows (Yao, Demers, Shenker: A scheduling model for reduced CPU energy,
// 1995; from memory). Weeks whose work exceeds their capacity are set to it;
// short[i] counts them among the weeks before i.
func (b *board) profile(d demand) (calm, short []int) {
	calm, short = make([]int, len(b.weeks)), make([]int, len(b.weeks)+1)
	left := make([]int, len(b.weeks))
	for i := range left {
		left[i] = i
	}
	for top := 0.0; len(left) > 0; {
		part := d.squeeze(left)
		part.nest()
		share, tight, ok := b.press(part, left)
		top = max(top, share)
		rest := left[:0]
		for k, i := range left {
			if tight.holds(k) {
				calm[i] = shareOf(b.weeks[i].Capacity, max(share, min(top, ease)))
				if !ok {
					short[i+1] = 1
				}
			} else {
				rest = append(rest, i)
			}
		}
		left = rest
	}
	for i := range calm {
		short[i+1] += short[i]
	}
	return calm, short
}

// shareOf is a share of a capacity in whole minutes, rounded up.
func shareOf(capacity int, share float64) int {
	return min(capacity, int(math.Ceil(float64(capacity)*share-1e-9)))
}

// shareStep is how finely shares are told apart: well under a minute of a
// week of any shop.
const shareStep = 1e-6

// press finds the smallest share of the capacity of the weeks left that holds
// the work, and the interval that needs it. False, with an interval that is too full, if even all of it
// does not.
func (b *board) press(d demand, left []int) (float64, window, bool) {
	room := make([]int, len(left))
	over := func(share float64) (window, bool) {
		for k, i := range left {
			room[k] = max(shareOf(b.weeks[i].Capacity, share)-b.load[i], 0)
		}
		return d.over(room)
	}
	if w, bad := over(1); bad {
		return 1, w, false
	}
	all := window{0, len(left) - 1}
	tight, bad := over(0)
	if !bad {
		return 0, all, true
	}
	lo, hi := 0.0, 1.0
	for hi-lo > shareStep {
		mid := (lo + hi) / 2
		if w, bad := over(mid); bad {
			lo, tight = mid, w
		} else {
			hi = mid
		}
	}
	return hi, tight, true
}
