package forecast

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// outlook is the predictive distribution of a number of outings: negative
// binomial, a Poisson count over a running time whose rate is Gamma distributed
// with shape a and rate b. Counts may be fractions.
type outlook struct{ a, b, exposure float64 }

// atLeast returns the probability of k outings or more.
func (n outlook) atLeast(k float64) float64 {
	switch {
	case k <= 0:
		return 1
	case n.exposure <= 0:
		return 0
	}
	return mathext.RegIncBeta(k, n.a, n.exposure/(n.b+n.exposure))
}

// moments returns the mean and the variance of the count.
func (n outlook) moments() (mean, variance float64) {
	mean = n.exposure * n.a / n.b
	return mean, mean * (1 + n.exposure/n.b)
}

// bounds encloses atLeast(k) without computing it, by Cantelli's one-sided
// inequality on the whole counts around k.
func (n outlook) bounds(k float64) (lo, hi float64) {
	mean, variance := n.moments()
	lo, hi = 0, 1
	if d := math.Floor(k) - mean; d > 0 {
		hi = variance / (variance + d*d)
	}
	if d := mean - (math.Ceil(k) - 1); d > 0 {
		lo = 1 - variance/(variance+d*d)
	}
	return lo, hi
}

// countAt returns the count k with atLeast(k) = p, by bisection: it serves a
// page's chart, not the planner.
func (n outlook) countAt(p float64) float64 {
	if n.exposure <= 0 || p >= 1 {
		return 0
	}
	mean, variance := n.moments()
	lo, hi := 0.0, mean+math.Sqrt(variance)+1
	for n.atLeast(hi) > p && hi < 1e9 {
		lo, hi = hi, 2*hi
	}
	for range 60 {
		if mid := (lo + hi) / 2; n.atLeast(mid) > p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// betaQuantile returns the x with I(k, a; x) = p.
func betaQuantile(k, a, p float64) float64 { return mathext.InvRegIncBeta(k, a, p) }
