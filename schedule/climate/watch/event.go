package watch

import "bellbuoy/schedule/civil"

// Apart is how many days apart two nights are at the least for the freeze to be
// another one: people who heard of the first have done what they will do about
// the second.
const Apart = 4

// Run is a freeze: nights of alarm less than [Apart] days apart.
type Run struct {
	First, Last civil.Day // the days on which its first and last night end
}

// Takes reports whether a night belongs to the run.
func (r Run) Takes(night civil.Day) bool { return night > r.First-Apart && night < r.Last+Apart }

// Add widens the run by a night.
func (r Run) Add(night civil.Day) Run { return Run{min(r.First, night), max(r.Last, night)} }

// Runs puts nights, in order, into runs.
func Runs(nights []civil.Day) []Run {
	var out []Run
	for _, n := range nights {
		if k := len(out) - 1; k >= 0 && out[k].Takes(n) {
			out[k] = out[k].Add(n)
			continue
		}
		out = append(out, Run{n, n})
	}
	return out
}
