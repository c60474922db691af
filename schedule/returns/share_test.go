package returns_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/returns"
)

// TestWilson compares with the score intervals without continuity correction
// (method 3) in table I of Newcombe, "Two-sided confidence intervals for the
// single proportion", Statistics in Medicine 17 (1998) 857-872, as
// several public test suites quote it.
func TestWilson(t *testing.T) {
	tests := []struct {
		name      string
		share     returns.Share
		low, high float64
	}{
		{"81 of 263", returns.Share{Came: 81, Of: 263}, 0.2553, 0.3662},
		{"15 of 148", returns.Share{Came: 15, Of: 148}, 0.0624, 0.1605},
		{"0 of 20", returns.Share{Came: 0, Of: 20}, 0, 0.1611},
		{"1 of 29", returns.Share{Came: 1, Of: 29}, 0.0061, 0.1718},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			low, high := tt.share.Interval(0.95)
			near(t, "low", low, tt.low, 0.00005)
			near(t, "high", high, tt.high, 0.00005)
		})
	}
	if low, high := (returns.Share{}).Interval(0.95); low != 0 || high != 1 {
		t.Errorf("of nothing: %v to %v", low, high)
	}
}

func TestWilsonHoldsTheShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(t, "of")
		s := returns.Share{Came: rapid.IntRange(0, n).Draw(t, "came"), Of: n}
		low, high := s.Interval(0.95)
		if low < 0 || high > 1 || low > s.Rate() || high < s.Rate() {
			t.Fatalf("%+v: %v to %v", s, low, high)
		}
		// What stayed away has the mirrored interval.
		l, h := returns.Share{Came: n - s.Came, Of: n}.Interval(0.95)
		if math.Abs(l-(1-high)) > 1e-12 || math.Abs(h-(1-low)) > 1e-12 {
			t.Fatalf("%+v: %v to %v, mirrored %v to %v", s, low, high, l, h)
		}
	})
}

// TestShrinkage is worked by hand: a group that comes three times in four, its
// belief worth four seasons, is 3 against 1. A boat that came in one of its two
// seasons makes it (3+1)/(4+2) = 2/3; one that came in all of eight 11/12; one
// without seasons stays at the group's 3/4.
func TestShrinkage(t *testing.T) {
	group := returns.Prior(0.75, 4)
	tests := []struct {
		name string
		own  returns.Trial
		want float64
	}{
		{"no season of its own", returns.Trial{}, 3.0 / 4},
		{"one of two", returns.Trial{Came: 1, Of: 2}, 4.0 / 6},
		{"all of eight", returns.Trial{Came: 8, Of: 8}, 11.0 / 12},
		{"none of four", returns.Trial{Came: 0, Of: 4}, 3.0 / 8},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { near(t, "chance", group.With(tt.own).Mean(), tt.want, 1e-12) })
	}
}

// TestFitPriorFindsTheSpread: histories drawn from a known belief give its mean
// and about its weight back.
func TestFitPriorFindsTheSpread(t *testing.T) {
	for _, tt := range []struct {
		name   string
		weight float64
		few    float64
		many   float64
	}{{"much alike", 16, 8, 32}, {"each his own", 3, 2, 4}} {
		t.Run(tt.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, 7))
			var group []returns.Trial
			for range 3000 {
				p := drawBeta(rng, 0.7*tt.weight, 0.3*tt.weight)
				own := returns.Trial{Of: 6}
				for range 6 {
					if rng.Float64() < p {
						own.Came++
					}
				}
				group = append(group, own)
			}
			got := returns.FitPrior(group)
			near(t, "mean", got.Mean(), 0.7, 0.02)
			if w := got.Weight(); w < tt.few || w > tt.many {
				t.Errorf("weight %v, want %v to %v", w, tt.few, tt.many)
			}
		})
	}
	if got := returns.FitPrior(nil).Mean(); got != 0.5 {
		t.Errorf("of nothing known: %v", got)
	}
}

// drawBeta draws by inverting the distribution on a grid: coarse, and
// independent of the code under test.
func drawBeta(rng *rand.Rand, a, b float64) float64 {
	const n = 400
	var cum [n]float64
	sum := 0.0
	for i := range cum {
		x := (float64(i) + 0.5) / n
		sum += math.Pow(x, a-1) * math.Pow(1-x, b-1)
		cum[i] = sum
	}
	u := rng.Float64() * sum
	for i, c := range cum {
		if u <= c {
			return (float64(i) + 0.5) / n
		}
	}
	return 1
}
