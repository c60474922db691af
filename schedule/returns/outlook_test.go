package returns_test

import (
	"math/rand/v2"
	"testing"

	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/returns"
)

var first = returns.Season{Year: 2020, Half: returns.Spring}

func TestOwnSeasons(t *testing.T) {
	h := history(t, "2023-05-01", "", "2023-10-02", "2025-10-03")
	tests := []struct {
		name, on string
		half     returns.Half
		want     returns.Trial
	}{
		{"autumns, the newest counts whole", "2026-08-01", returns.Autumn, returns.Trial{Came: 1 + 0.36, Of: 1 + 0.6 + 0.36}},
		{"springs, from the one after the sale", "2026-08-01", returns.Spring, returns.Trial{Came: 0, Of: 1 + 0.6 + 0.36}},
		{"the running season does not count yet", "2025-11-01", returns.Autumn, returns.Trial{Came: 0.6, Of: 1 + 0.6}},
		{"in spring the last autumn is the newest", "2026-02-01", returns.Autumn, returns.Trial{Came: 1 + 0.36, Of: 1 + 0.6 + 0.36}},
		{"before any season", "2023-08-01", returns.Autumn, returns.Trial{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := h.Own(tt.half, first, day(t, tt.on))
			near(t, "came", got.Came, tt.want.Came, 1e-9)
			near(t, "of", got.Of, tt.want.Of, 1e-9)
		})
	}
}

// TestOutlookAddsUp: months sum to the whole and to the visits, and a booked
// visit has no range of its own.
func TestOutlookAddsUp(t *testing.T) {
	due := []returns.Due{
		{Boat: "B1", Day: day(t, "2026-10-05"), List: 33333, Chance: 0.7},
		{Boat: "B2", Day: day(t, "2026-10-30"), List: 20001, Chance: 1},
		{Boat: "B3", Day: day(t, "2027-05-01"), List: 10000, Chance: 0.5},
		{Boat: "B4", Day: day(t, "2027-08-01"), List: 10000, Chance: 0.5}, // a year later
	}
	months, whole := returns.Outlook(due, day(t, "2026-08-01"), 12, 0, 0.8)
	var sum measure.Cents
	for _, m := range months {
		sum += m.Expected
	}
	if want := measure.Cents(23333 + 20001 + 5000); sum != want || whole.Expected != want || whole.Visits != 3 {
		t.Errorf("months %d, whole %d of %d visits; want %d of 3", sum, whole.Expected, whole.Visits, want)
	}
	oct, may := months[2], months[9]
	if oct.Month.String() != "2026-10" || oct.Visits != 2 || oct.Expected != 43334 || oct.List != 53334 {
		t.Errorf("October: %+v", oct)
	}
	// By hand: 10,000 x sqrt(0.5 x 0.5) x 1.2816 = 6,408.
	if may.Low != 0 || may.High != 5000+6408 {
		t.Errorf("May: %d to %d", may.Low, may.High)
	}
	if empty := months[0]; empty.Low != 0 || empty.High != 0 {
		t.Errorf("August: %+v", empty)
	}
}

// TestOutlookRangeHolds draws years from the stated chances and counts how
// often the whole lies in its four-in-five range.
func TestOutlookRangeHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	var due []returns.Due
	for range 300 {
		due = append(due, returns.Due{Day: day(t, "2026-10-01"), List: measure.Cents(10000 + rng.IntN(90000)), Chance: rng.Float64()})
	}
	_, whole := returns.Outlook(due, day(t, "2026-08-01"), 12, 0, 0.8)
	const years = 4000
	in := 0
	for range years {
		var came measure.Cents
		for _, d := range due {
			if rng.Float64() < d.Chance {
				came += d.List
			}
		}
		if came >= whole.Low && came <= whole.High {
			in++
		}
	}
	near(t, "share of years inside", float64(in)/years, 0.8, 0.025) // four standard errors
}

// TestCalibrate is worked by hand.
func TestCalibrate(t *testing.T) {
	c := returns.Calibrate([]returns.Replay{
		{On: day(t, "2024-08-01"), Expected: 2000, Came: 2500},
		{On: day(t, "2022-08-01"), Expected: 1000, Came: 1200},
		{On: day(t, "2023-08-01"), Expected: 1000, Came: 1000},
	})
	// 2023 knows 1200/1000; 2024 knows (0.6 x 1200 + 1000) / (0.6 x 1000 + 1000).
	want := []returns.Replay{
		{On: day(t, "2022-08-01"), Expected: 1000, Came: 1200},
		{On: day(t, "2023-08-01"), Expected: 1000, Came: 1000, Factor: 1.2, Forecast: 1200},
		{On: day(t, "2024-08-01"), Expected: 2000, Came: 2500, Factor: 1.075, Forecast: 2150},
	}
	for i := range want {
		if c.Years[i] != want[i] {
			t.Errorf("year %d: %+v, want %+v", i, c.Years[i], want[i])
		}
	}
	near(t, "factor", c.Factor, (0.36*1200+0.6*1000+2500)/(0.36*1000+0.6*1000+2000), 1e-12)
	// The root of the mean square of -200/1200 and 350/2150.
	near(t, "miss", c.Miss, 0.16474, 0.00001)
	if e, ok := c.Years[1].Error(); !ok || e != 0.2 {
		t.Errorf("error of 2023: %v, %v", e, ok)
	}
	if none := returns.Calibrate(nil); none.Factor != 1 || none.Miss != 0 {
		t.Errorf("of nothing: %+v", none)
	}
}

func TestChances(t *testing.T) {
	loyal := history(t, "2022-05-01", "", "2022-10-01", "2023-10-01", "2024-10-01", "2025-10-01")
	lost := history(t, "2022-05-01", "", "2022-10-01")
	young := history(t, "2026-07-10", "")
	on, autumn := day(t, "2026-08-01"), day(t, "2026-10-10")
	c := returns.NewChances([]returns.History{loyal, lost, young}, first, on)
	a, b, g := c.Of(&loyal, autumn), c.Of(&lost, autumn), c.Of(&young, autumn)
	if !(a > g && g > b) || a >= 1 || b <= 0 {
		t.Errorf("loyal %v, new %v, lost %v: want them falling, inside 0 and 1", a, g, b)
	}
	near(t, "new boat", g, c.Group(returns.Autumn, "").Mean(), 1e-12)
}

// TestChancesLateInTheSeason is worked by hand. Five times boats came on
// 1 October and none came later, so of those who come (0+0.5)/(5+1) = 1/12 come
// after that: a boat of chance p that has not come by then has
// (p/12) / (1 - p + p/12). The next autumn knows nothing of it.
func TestChancesLateInTheSeason(t *testing.T) {
	loyal := history(t, "2022-05-01", "", "2022-10-01", "2023-10-01", "2024-10-01", "2025-10-01")
	lost := history(t, "2022-05-01", "", "2022-10-01")
	all := []returns.History{loyal, lost}
	november := returns.NewChances(all, first, day(t, "2026-11-25"))
	p := november.Of(&loyal, day(t, "2027-10-10"))
	near(t, "this autumn", november.Of(&loyal, day(t, "2026-12-10")), p/12/(1-p+p/12), 1e-12)
	august := returns.NewChances(all, first, day(t, "2026-08-01"))
	near(t, "on the season's first day", august.Of(&loyal, day(t, "2026-10-10")), p, 1e-12)
}

func TestReliability(t *testing.T) {
	r := returns.NewReliability()
	for _, x := range []struct {
		chance float64
		came   bool
	}{{0, false}, {0.15, true}, {0.2, true}, {0.9, true}, {1, true}, {0.8, false}} {
		r.Add(x.chance, x.came)
	}
	want := []returns.Share{{Came: 1, Of: 2}, {Came: 1, Of: 1}, {}, {}, {Came: 2, Of: 3}}
	for i, b := range r {
		if b.Came != want[i] {
			t.Errorf("%.1f to %.1f: %+v, want %+v", b.Low, b.High, b.Came, want[i])
		}
	}
	near(t, "mean chance", r[4].Chance, 0.9, 1e-12)
}
