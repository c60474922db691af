package level

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
