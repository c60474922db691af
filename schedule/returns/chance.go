package returns

import (
	"cmp"
	"math"
	"slices"
)

// Beta is what is believed of a chance: as if A times out of A+B it had come.
type Beta struct {
	A, B float64
}

// Prior is a belief with a mean, 0 to 1, that weighs as much as so many seasons
// of a boat's own.
func Prior(mean, weight float64) Beta { return Beta{A: mean * weight, B: (1 - mean) * weight} }

// Mean is the chance itself.
func (b Beta) Mean() float64 { return b.A / (b.A + b.B) }

// Weight is how many seasons of a boat's own the belief is worth.
func (b Beta) Weight() float64 { return b.A + b.B }

// With adds a boat's own seasons to the belief: the mean is then its own share
// shrunk towards the group's, the more so the fewer seasons it has.
func (b Beta) With(t Trial) Beta { return Beta{A: b.A + t.Came, B: b.B + t.Of - t.Came} }

// Trial is a boat's own history: of so many seasons it came in so many. Seasons
// long ago count for less, so neither need be whole.
type Trial struct {
	Came, Of float64
}

// priorWeights are the weights, in seasons, among which [FitPrior] chooses.
func priorWeights() []float64 {
	return []float64{0.25, 0.35, 0.5, 0.7, 1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32}
}

// usualWeight is the weight where too few histories tell: common practice, no
// source.
const usualWeight = 2

// FitPrior makes a group's belief from its members' histories: the mean is the
// group's share, the weight the likeliest of a short list by the beta-binomial
// likelihood. A group whose members are much alike weighs much. Without any
// history the mean is one half.
func FitPrior(group []Trial) Beta {
	var sum Trial
	for _, t := range group {
		sum.Came += t.Came
		sum.Of += t.Of
	}
	if sum.Of == 0 {
		return Prior(0.5, usualWeight)
	}
	// A mean of exactly 0 or 1 would never believe a first exception.
	mean := (sum.Came + 0.5) / (sum.Of + 1)
	best, bestLikelihood := Prior(mean, usualWeight), math.Inf(-1)
	alike := countAlike(group)
	for _, w := range priorWeights() {
		p := Prior(mean, w)
		if l := p.logLikelihood(alike); l > bestLikelihood {
			best, bestLikelihood = p, l
		}
	}
	return best
}

// alike is a history that so many boats have.
type alike struct {
	Trial
	boats int
}

// countAlike joins equal histories: thousands of boats have a few dozen.
func countAlike(group []Trial) []alike {
	counts := make(map[Trial]int)
	for _, t := range group {
		counts[t]++
	}
	all := make([]alike, 0, len(counts))
	for t, n := range counts {
		all = append(all, alike{t, n})
	}
	// In one order, so that the sum is the same to the last digit each time.
	slices.SortFunc(all, func(a, b alike) int { return cmp.Or(cmp.Compare(a.Of, b.Of), cmp.Compare(a.Came, b.Came)) })
	return all
}

// logLikelihood of the histories, without the part that no weight changes.
func (b Beta) logLikelihood(group []alike) float64 {
	l, own := 0.0, logBeta(b.A, b.B)
	for _, t := range group {
		l += float64(t.boats) * (logBeta(b.A+t.Came, b.B+t.Of-t.Came) - own)
	}
	return l
}

func logBeta(a, b float64) float64 {
	x, _ := math.Lgamma(a)
	y, _ := math.Lgamma(b)
	z, _ := math.Lgamma(a + b)
	return x + y - z
}
