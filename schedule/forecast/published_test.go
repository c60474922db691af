package forecast_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// urn is an engine that runs all year in outings of one hour, with a prior of
// a outings in b seasons and a meter at 0 h on 1 January 2001. Its chances are
// plain statistics: k outings are k - 1/2 hours.
func urn(t testing.TB, a, b float64) (*forecast.Model, *forecast.Season, civil.Day) {
	t.Helper()
	s, err := forecast.NewSeason(civil.MonthDay{}, civil.MonthDay{}, flat)
	if err != nil {
		t.Fatal(err)
	}
	start := civil.Of(2001, time.January, 1)
	m, _ := forecast.New(forecast.Prior{MeanHours: a / b, Weight: b, OutingHours: 1}, s, nil, start)
	return m, s, start
}

// With a prior worth a million seasons the rate is certain and the outings are
// a Poisson count. Cumulative sums: Abramowitz & Stegun, Handbook of
// Mathematical Functions, Table 26.7, recomputed since (the first of each mean
// is e^-m by hand).
func TestPoissonTable(t *testing.T) {
	for _, c := range []struct {
		mean float64
		upTo int // outings at most
		want float64
	}{
		{1, 0, 0.36788}, {1, 1, 0.73576}, {1, 2, 0.91970}, {1, 3, 0.98101},
		{5, 0, 0.00674}, {5, 2, 0.12465}, {5, 5, 0.61596}, {5, 10, 0.98630},
	} {
		m, _, _ := urn(t, c.mean*1e6, 1e6)
		got := 1 - m.ReachedBy(float64(c.upTo)+0.5, civil.Of(2002, time.January, 1))
		near(t, "P(N <= "+strconv.Itoa(c.upTo)+")", got, c.want, 1.1e-5)
	}
}

// The time to the kth outing at a certain rate is Gamma distributed: twice the
// expected outings by then are chi-square with 2k degrees of freedom. Critical
// values: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4.
func TestGammaTable(t *testing.T) {
	for _, c := range []struct{ k, p, chi2 float64 }{
		{5, 0.05, 3.940}, {5, 0.10, 4.865}, {5, 0.90, 15.987}, {5, 0.95, 18.307},
		{10, 0.05, 10.851}, {10, 0.10, 12.443}, {10, 0.90, 28.412},
	} {
		m, s, start := urn(t, 1e6, 1e6)
		d, ok := m.DayReached(c.k-0.5, c.p)
		if !ok {
			t.Fatalf("no day for %v", c)
		}
		// A day is 2/365 on this scale.
		near(t, "chi-square", 2*s.Exposure(start, d)-1.0/365, c.chi2, 1.0/365+6e-4)
	}
}

// With an uncertain rate the time to the kth outing, over what the prior
// expects, has the F distribution with 2k and 2a degrees of freedom. Critical
// values: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.3.
func TestFTable(t *testing.T) {
	for _, c := range []struct{ k, a, p, f float64 }{
		{5, 5, 0.95, 2.978}, {5, 10, 0.95, 2.348}, {2, 5, 0.95, 3.478}, {10, 5, 0.95, 2.774},
		{1, 5, 0.95, 4.103}, {5, 30, 0.95, 1.993}, {5, 5, 0.90, 2.323}, {5, 10, 0.99, 3.368},
	} {
		b := 12 * c.a / c.k / c.f // about 12 seasons, so that a day is little
		m, s, start := urn(t, c.a, b)
		d, ok := m.DayReached(c.k-0.5, c.p)
		if !ok {
			t.Fatalf("no day for %v", c)
		}
		day := c.a / c.k / b / 365
		near(t, "F", s.Exposure(start, d)*c.a/c.k/b-day/2, c.f, day/2+6e-4)
	}
}

// A negative binomial tail is a binomial one: k successes or more in a+k-1
// trials. Values: the binomial table of any textbook (from memory).
func TestBinomialTable(t *testing.T) {
	for _, c := range []struct {
		n, k int
		q    float64
		want float64 // P(at least k of n)
	}{
		{10, 4, 0.30, 0.3504}, {20, 6, 0.25, 1 - 0.6172}, {15, 6, 0.40, 1 - 0.4032},
	} {
		b := (1 - c.q) / c.q // so that one season has q = 1/(b+1)
		m, _, _ := urn(t, float64(c.n-c.k+1), b)
		near(t, "P", m.ReachedBy(float64(c.k)-0.5, civil.Of(2002, time.January, 1)), c.want, 6e-5)
	}
}

// testdata/nbinom.csv is written by testdata/nbinom.py with scipy.stats.
func TestReferenceLibrary(t *testing.T) {
	f, err := os.Open("testdata/nbinom.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 200 {
		t.Fatalf("%d rows, error %v: want 200 or more", len(rows), err)
	}
	for _, row := range rows[1:] {
		var v [7]float64
		for i, cell := range row {
			if v[i], err = strconv.ParseFloat(cell, 64); err != nil {
				t.Fatal(err)
			}
		}
		a, b, k, days, chance, p, at := v[0], v[1], v[2], v[3], v[4], v[5], v[6]
		m, _, start := urn(t, a, b)
		if got := m.ReachedBy(k-0.5, start+civil.Day(days)); math.Abs(got-chance) > 1e-9 {
			t.Errorf("%v: chance %v, want %v", row, got, chance)
		}
		if d, ok := m.DayReached(k-0.5, p); !ok || d != start+civil.Day(at) {
			t.Errorf("%v: day %d, want %v", row, d-start, at)
		}
	}
}

// The chance of k outings, for any fraction k, is the integral of the Beta
// density; here by Simpson's rule on x = sin^2(u), which is smooth at both ends.
func TestChanceIsTheIntegral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(1, 60).Draw(t, "a")
		b := rapid.Float64Range(0.1, 5).Draw(t, "b")
		k := rapid.Float64Range(1, 80).Draw(t, "k")
		seasons := rapid.IntRange(1, 10).Draw(t, "seasons")
		s, _ := forecast.NewSeason(civil.MonthDay{}, civil.MonthDay{}, flat)
		m, _ := forecast.New(forecast.Prior{MeanHours: a / b, Weight: b, OutingHours: 1}, s, nil, civil.Of(2001, 1, 1))
		got := m.ReachedBy(k-0.5, civil.Of(2001+seasons, 1, 1))
		want := betaIntegral(k, a, float64(seasons)/(b+float64(seasons)))
		if math.Abs(got-want) > 1e-8 {
			t.Fatalf("chance %v, integral %v", got, want)
		}
	})
}

// betaIntegral is I(k, a; x) without any series or continued fraction.
func betaIntegral(k, a, x float64) float64 {
	lk, _ := math.Lgamma(k)
	la, _ := math.Lgamma(a)
	lka, _ := math.Lgamma(k + a)
	density := func(u float64) float64 {
		return 2 * math.Exp(lka-lk-la+(2*k-1)*math.Log(math.Sin(u))+(2*a-1)*math.Log(math.Cos(u)))
	}
	const n = 20000
	top := math.Asin(math.Sqrt(x))
	h, sum := top/n, density(top)
	for i := 1; i < n; i++ {
		sum += float64(2+2*(i%2)) * density(float64(i)*h)
	}
	return sum * h / 3
}
