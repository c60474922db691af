package returns_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/returns"
)

func share(came, of int) returns.Side {
	return returns.Side{Share: returns.Share{Came: came, Of: of}}
}

// TestNewcombe: the eight pairs of shares in table II of Newcombe, Interval
// estimation for the difference between independent proportions, Statistics in
// Medicine 17 (1998), method 10 (score, without continuity correction). The
// figures are as several public test suites quote the table.
func TestNewcombe(t *testing.T) {
	for _, tt := range []struct {
		name      string
		a, b      returns.Side
		low, high float64
	}{
		{"56 of 70, 48 of 80", share(56, 70), share(48, 80), 0.0524, 0.3339},
		{"9 of 10, 3 of 10", share(9, 10), share(3, 10), 0.1705, 0.8090},
		{"6 of 7, 2 of 7", share(6, 7), share(2, 7), 0.0582, 0.8062},
		{"5 of 56, 0 of 29", share(5, 56), share(0, 29), -0.0381, 0.1926},
		{"0 of 10, 0 of 20", share(0, 10), share(0, 20), -0.1611, 0.2775},
		{"0 of 10, 0 of 10", share(0, 10), share(0, 10), -0.2775, 0.2775},
		{"10 of 10, 0 of 20", share(10, 10), share(0, 20), 0.6791, 1.0000},
		{"10 of 10, 0 of 10", share(10, 10), share(0, 10), 0.6075, 1.0000},
	} {
		t.Run(tt.name, func(t *testing.T) {
			e := returns.CameMore([]returns.Assignment{{Notified: tt.a, Held: tt.b}}, 0.95)
			if !e.Known || math.Abs(e.By-(tt.a.Rate()-tt.b.Rate())) > 1e-12 || math.Abs(e.Low-tt.low) > 5e-5 || math.Abs(e.High-tt.high) > 5e-5 {
				t.Errorf("%+v, want %.4f to %.4f", e, tt.low, tt.high)
			}
		})
	}
}

// TestLotsOfSeveralSeasons by hand: weights 10*10/20 = 5 and 30*10/40 = 7.5,
// differences 0.2 and 0.4, together (5*0.2 + 7.5*0.4)/12.5 = 0.32. A season
// whose sides cannot be compared weighs nothing.
func TestLotsOfSeveralSeasons(t *testing.T) {
	first, second := returns.Assignment{Notified: share(5, 10), Held: share(3, 10)}, returns.Assignment{Notified: share(24, 30), Held: share(4, 10)}
	both := returns.CameMore([]returns.Assignment{first, second, {Notified: share(9, 9)}}, 0.95)
	if math.Abs(both.By-0.32) > 1e-12 {
		t.Errorf("together %v, want 0.32", both.By)
	}
	one, other := returns.CameMore([]returns.Assignment{first}, 0.95), returns.CameMore([]returns.Assignment{second}, 0.95)
	low := 0.32 - math.Sqrt(math.Pow(5*(one.By-one.Low), 2)+math.Pow(7.5*(other.By-other.Low), 2))/12.5
	if math.Abs(both.Low-low) > 1e-12 || both.High-both.Low >= one.High-one.Low {
		t.Errorf("%+v; want it from %v, and narrower than %+v", both, low, one)
	}
	for name, none := range map[string][]returns.Assignment{"nothing": nil, "one side only": {{Held: share(1, 2)}}} {
		if e := returns.CameMore(none, 0.95); e.Known || sure(e) {
			t.Errorf("%s: %+v", name, e)
		}
	}
}

// sure reports whether the interval leaves out no difference at all.
func sure(e returns.Effect) bool { return e.Low > 0 || e.High < 0 }

// TestPaidMore: the hours of sleep gained with two drugs, Student, The probable
// error of a mean, Biometrika 6 (1908), as the documentation of R's t.test prints
// Welch's test of them: difference -1.58 on 17.776 degrees of freedom, 95 percent
// interval -3.3654832 to 0.2054832. Here tenths of an hour stand for
// cents.
func TestPaidMore(t *testing.T) {
	var l returns.Assignment
	for _, x := range []measure.Cents{7, -16, -2, -12, -1, 34, 37, 8, 0, 20} {
		l.Notified.Add(x > 0, x)
	}
	for _, x := range []measure.Cents{19, 8, 11, 1, -1, 44, 55, 16, 46, 34} {
		l.Held.Add(x > 0, x)
	}
	e := returns.PaidMore([]returns.Assignment{l}, 0.95)
	if !e.Known || math.Abs(e.By+15.8) > 1e-9 || math.Abs(e.Low+33.654832) > 1e-5 || math.Abs(e.High-2.054832) > 1e-5 || sure(e) {
		t.Errorf("%+v, want -15.8 from -33.654832 to 2.054832", e)
	}
	if l.Notified.Came != 5 || l.Notified.Of != 10 || l.Held.Came != 9 {
		t.Errorf("%+v and %+v", l.Notified.Share, l.Held.Share)
	}
	var few returns.Assignment
	few.Notified.Add(true, 100)
	few.Held.Add(true, 200)
	few.Held.Add(true, 300)
	if e := returns.PaidMore([]returns.Assignment{few}, 0.95); e.Known {
		t.Errorf("one customer on a side: %+v", e)
	}
}

// TestLotsCoverTheTruth plays shops in which the nudge is known to bring one
// customer in eight who would not have come: 95 intervals in a hundred should
// hold that, and of shops where it brings nobody few should claim that it does.
func TestLotsCoverTheTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(20270401, 6))
	const shops, effect = 4000, 0.125
	for _, truth := range []float64{0, effect} {
		covered, claimed := 0, 0
		for range shops {
			var seasons []returns.Assignment
			for range 3 {
				var l returns.Assignment
				base := 0.2 + 0.4*rng.Float64() // seasons differ
				for range 120 {
					if rng.Float64() < 0.15 {
						l.Held.Add(rng.Float64() < base, 0)
					} else {
						l.Notified.Add(rng.Float64() < base+truth, 0)
					}
				}
				seasons = append(seasons, l)
			}
			e := returns.CameMore(seasons, 0.95)
			if e.Low <= truth && truth <= e.High {
				covered++
			}
			if sure(e) {
				claimed++
			}
		}
		share := float64(covered) / shops
		// Four standard errors of a share of 0.95 in so many shops, and half a
		// point for an interval that is not exact.
		if slack := 4*math.Sqrt(0.95*0.05/shops) + 0.005; math.Abs(share-0.95) > slack {
			t.Errorf("a truth of %v lies in %.3f of the intervals, want 0.95 within %.3f", truth, share, slack)
		}
		if truth == 0 && float64(claimed)/shops > 0.07 {
			t.Errorf("where nudges bring nobody, %d of %d shops were told that they do", claimed, shops)
		}
	}
}
