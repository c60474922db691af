package level

import (
	"math"
)

// ease is the share of its capacity up to which a week need not be evened out:
// half a week's work is calm enough, and a visit there is better off at its
// wish. It never raises the fullest week. Common practice, no source.
const ease = 0.5

// setCeilings decides how much each week should hold. It looks at the work
// alone and not at where it lay before, so that a plan fitted again has the
// same ceilings.
func (s *state) setCeilings() {
	d, most := newDemand(len(s.weeks)), 0
	for j := range s.jobs {
		if s.fits[j] {
			d.add(s.window[j], s.size[j])
			most = max(most, s.size[j])
		}
	}
	full := make([]int, len(s.weeks))
	for i, w := range s.weeks {
		full[i] = w.Capacity
	}
	copy(s.ceil, full)
	calm, short := s.profile(d)
	// Weeks that are too full even if visits may be split go up to their
	// capacity. The rest of the year is levelled all the same, for the jobs that
	// have nothing to do with those weeks.
	counts := func(j int) bool { return s.fits[j] && short[s.window[j].hi+1] == short[s.window[j].lo] }
	if short[len(s.weeks)] > 0 {
		most = 0
		for j := range s.jobs {
			if counts(j) {
				most = max(most, s.size[j])
			}
		}
	}
	q := s.newQueue(counts)
	try := func(extra int) bool {
		for i := range calm {
			s.ceil[i] = min(full[i], calm[i]+extra)
		}
		return q.feasible(s.calmRooms())
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

func (s *state) calmRooms() []int {
	r := make([]int, len(s.weeks))
	for i := range r {
		r[i] = s.calmRoom(i)
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
func (s *state) profile(d demand) (calm, short []int) {
	calm, short = make([]int, len(s.weeks)), make([]int, len(s.weeks)+1)
	left := make([]int, len(s.weeks))
	for i := range left {
		left[i] = i
	}
	for top := 0.0; len(left) > 0; {
		part := d.squeeze(left)
		part.nest()
		share, tight, ok := s.press(part, left)
		top = max(top, share)
		rest := left[:0]
		for k, i := range left {
			if tight.holds(k) {
				calm[i] = shareOf(s.weeks[i].Capacity, max(share, min(top, ease)))
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
func (s *state) press(d demand, left []int) (float64, window, bool) {
	room := make([]int, len(left))
	over := func(share float64) (window, bool) {
		for k, i := range left {
			room[k] = max(shareOf(s.weeks[i].Capacity, share)-s.load[i], 0)
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

// demand is the work that must be done within each interval of weeks: within
// (a, b) are the minutes of all jobs whose window lies inside a..b.
type demand struct {
	n int
	v []int // n x n, row a, column b
}

func newDemand(n int) demand { return demand{n, make([]int, n*n)} }

func (d demand) at(a, b int) int {
	if a > b {
		return 0
	}
	return d.v[a*d.n+b]
}

// add counts one window's minutes, before [demand.nest].
func (d demand) add(w window, minutes int) { d.v[w.lo*d.n+w.hi] += minutes }

// nest turns minutes by window into minutes by all intervals around it.
func (d demand) nest() {
	for a := d.n - 1; a >= 0; a-- {
		for b := a; b < d.n; b++ {
			v := d.at(a, b-1)
			if a+1 < d.n {
				v += d.at(a+1, b) - d.at(a+1, b-1)
			}
			d.v[a*d.n+b] += v
		}
	}
}

// over returns the first interval whose work exceeds its room. If there is
// none, the work fits as far as it may be split over weeks: windows are
// intervals, so Hall's condition need only be asked of intervals.
func (d demand) over(room []int) (window, bool) {
	for a := range d.n {
		sum := 0
		for b := a; b < d.n; b++ {
			if sum += room[b]; d.v[a*d.n+b] > sum {
				return window{a, b}, true
			}
		}
	}
	return window{}, false
}

// squeeze returns the demand on the weeks that are left when some are settled:
// windows shrink to the weeks left, and work that has none of them is gone.
// It reads and returns minutes by window, not nested.
func (d demand) squeeze(left []int) demand {
	out := newDemand(len(left))
	from := make([]int, d.n) // first week left that is not before
	to := make([]int, d.n)   // last week left that is not after
	k := len(left)
	for i := d.n - 1; i >= 0; i-- {
		if k > 0 && left[k-1] == i {
			k--
		}
		from[i] = k
	}
	for i := range d.n {
		if k < len(left) && left[k] == i {
			k++
		}
		to[i] = k - 1
	}
	for a := range d.n {
		for b := a; b < d.n; b++ {
			if m := d.v[a*d.n+b]; m != 0 && from[a] <= to[b] {
				out.add(window{from[a], to[b]}, m)
			}
		}
	}
	return out
}
