package demo

import (
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"bellbuoy/schedule/civil"
)

// chance reports true with probability p.
func chance(rng *rand.Rand, p float64) bool { return rng.Float64() < p }

// pick takes one of the things, each as likely as the next.
func pick[T any](rng *rand.Rand, things []T) T { return things[rng.IntN(len(things))] }

// weighted takes one of the things in proportion to its weight.
func weighted[T any](rng *rand.Rand, things []T, weight func(*T) int) *T {
	sum := 0
	for i := range things {
		sum += weight(&things[i])
	}
	n := rng.IntN(sum)
	for i := range things {
		if n -= weight(&things[i]); n < 0 {
			return &things[i]
		}
	}
	panic("demo: weights changed while they were counted")
}

// gamma draws from a Gamma distribution by its mean and shape; the larger the
// shape, the narrower around the mean.
func gamma(rng *rand.Rand, mean, shape float64) float64 {
	return distuv.Gamma{Alpha: shape, Beta: shape / mean, Src: rng}.Rand()
}

// between draws a whole number from lo to hi, both possible.
func between(rng *rand.Rand, lo, hi int) int { return lo + rng.IntN(hi-lo+1) }

// dayBetween draws a day from lo to hi, both possible.
func dayBetween(rng *rand.Rand, lo, hi civil.Day) civil.Day {
	return lo + civil.Day(rng.IntN(int(hi-lo)+1))
}
