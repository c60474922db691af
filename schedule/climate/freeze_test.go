package climate_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/words"
)

// winters is a complete series whose autumns from 2001 on first freeze on the
// given days; "" is an autumn that does not.
func winters(t testing.TB, firsts ...string) *climate.Series {
	t.Helper()
	var nights []string
	for i, md := range firsts {
		if md == "" {
			continue
		}
		y := 2001 + i
		if md < "08" {
			y++
		}
		nights = append(nights, fmt.Sprintf("%d-%s -3", y, md))
	}
	return steady(t, "2001-08-01", fmt.Sprintf("%d-07-31", 2001+len(firsts)), nights...)
}

func TestDeadline(t *testing.T) {
	ten := []string{"10-09", "10-03", "11-20", "10-15", "10-22", "10-30", "11-01", "12-24", "01-05", "10-12"}
	for _, c := range []struct {
		name   string
		firsts []string
		p      int
		want   string // "" for no deadline
	}{
		{"one in ten is the earliest of ten", ten, 10, "10-03"},
		{"eleven percent need a second one", ten, 11, "10-09"},
		{"half", ten, 50, "10-22"},
		{"Christmas Eve is the ninth", ten, 81, "12-24"},
		{"January is later than December", ten, 91, "01-05"},
		{"zero is no percentile", ten, 0, ""},
		{"nor is a hundred", ten, 100, ""},
		{"years without a freeze are later than any", slices.Repeat([]string{"10-09", "", "", "10-03", "10-12"}, 2), 60, "10-12"},
		{"so a high percentile may not exist", slices.Repeat([]string{"10-09", "", "", "10-03", "10-12"}, 2), 61, ""},
		{"half of the years is enough for a deadline", slices.Repeat([]string{"12-09", ""}, 5), 10, "12-09"},
		{"less is not", slices.Repeat([]string{"12-09", "", ""}, 4), 10, ""},
		{"never", slices.Repeat([]string{""}, 10), 10, ""},
		{"ten autumns are the least", slices.Repeat([]string{"10-09"}, 10), 10, "10-09"},
		{"nine are no basis", slices.Repeat([]string{"10-09"}, 9), 10, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok := winters(t, c.firsts...).Freeze(climate.HardFreeze, climate.Options{}).Deadline(c.p)
			if got.String() != c.want || ok != (c.want != "") {
				t.Errorf("%d %% day is %q (%v), want %q", c.p, got, ok, c.want)
			}
		})
	}
}

// The definition in the reference library: the smallest value at which the
// empirical distribution function reaches p.
func TestPercentilesAgreeWithGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		offsets := rapid.SliceOfN(rapid.IntRange(0, 364), 10, 40).Draw(t, "days from August 1")
		f := &climate.Freeze{}
		xs := make([]float64, len(offsets))
		for i, n := range offsets {
			// Common winters only: there the day of the year and the offset are one.
			d := civil.Of(2001, 8, 1) + civil.Day(n)
			f.Autumns = append(f.Autumns, climate.Autumn{Year: 2001, First: d, Froze: true, Used: true})
			xs[i] = float64(n)
		}
		slices.Sort(xs)
		p := rapid.IntRange(1, 99).Draw(t, "p")
		f.FreezesInPercent = 100
		got, ok := f.Deadline(p)
		// A hair less, because 0.07 is a little more than seven hundredths.
		want := civil.Of(2001, 8, 1) + civil.Day(stat.Quantile(float64(p)/100-1e-9, stat.Empirical, xs, nil))
		if _, m, d := want.Date(); !ok || got != (civil.MonthDay{Month: m, Day: d}) {
			t.Fatalf("%d %% of %v: %s, want %s", p, xs, got, want)
		}
	})
}

func TestPercentilesAreMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawSeries(t, false).Freeze(climate.HardFreeze, climate.Options{})
		last, ended := -1, false
		for p := 1; p < 100; p++ {
			md, ok := f.Deadline(p)
			if !ok {
				ended = true
				continue
			}
			if n := inSeason(md); ended || n < last {
				t.Fatalf("the %d %% day %s lies before an earlier percentile", p, md)
			} else {
				last = n
			}
		}
		listed := slices.IsSortedFunc(f.Percentiles, func(a, b climate.Percentile) int { return a.P - b.P })
		if !listed {
			t.Fatalf("percentiles are not in order: %v", f.Percentiles)
		}
	})
}

func TestExplain(t *testing.T) {
	ten := []string{"10-09", "10-03", "11-20", "10-15", "10-22", "10-30", "11-01", "12-24", "01-05", "10-12"}
	mild := winters(t, "", "", "", "12-09").Freeze(climate.Frost, climate.Options{})
	cold := winters(t, ten...)
	cold.Name = "Otter Rock"
	partial := steady(t, "2001-10-01", "2001-12-31", "2001-10-09 -3").Freeze(climate.Frost, climate.Options{})
	for _, c := range []struct{ name, got, want string }{
		{"a deadline", cold.Freeze(climate.HardFreeze, climate.Options{}).Explain(10, words.Format{}),
			"In 10% of autumns the first night at or below -2.2 °C / 28 °F has come by October 3 at Otter Rock, in half of them by October 22. " +
				"This is an estimate from past years, not a forecast. " +
				"From the daily minima of 10 autumns (2001 to 2010); data last seen on July 31, 2011."},
		{"mostly mild", mild.Explain(10, words.Format{}),
			"Most autumns do not reach 0 °C / 32 °F at station XX000000001 (25% do), so there is no winterization deadline. " +
				"A cold night can still come, and water left in an engine can then break it: watch the forecast. " +
				"From the daily minima of 4 autumns (2001 to 2004); data last seen on July 31, 2005."},
		{"never", winters(t, "").Freeze(climate.Frost, climate.Options{}).Explain(10, words.Format{}),
			"Most autumns do not reach 0 °C / 32 °F at station XX000000001 (0% do), so there is no winterization deadline. " +
				"From the daily minima of 1 autumn (2001); data last seen on July 31, 2002."},
		{"a percentile that too few reach", winters(t, slices.Repeat([]string{"10-09", ""}, 5)...).Freeze(climate.Frost, climate.Options{}).Explain(90, words.Format{}),
			"Fewer than 90% of autumns reach 0 °C / 32 °F at station XX000000001. " +
				"From the daily minima of 10 autumns (2001 to 2010); data last seen on July 31, 2011."},
		{"too few autumns", winters(t, "10-09", "10-11").Freeze(climate.Frost, climate.Options{}).Explain(10, words.Format{}),
			"10 autumns are the least from which a deadline can be told at station XX000000001. " +
				"From the daily minima of 2 autumns (2001 to 2002); data last seen on July 31, 2003."},
		{"nothing to go by", partial.Explain(10, words.Format{}),
			"Nothing here tells when 0 °C / 32 °F is first reached at station XX000000001: set the winterization deadline by hand, or choose another station. " +
				"No autumn has enough data; daily minima were last seen on December 31, 2001."},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.got != c.want {
				t.Errorf("got  %s\nwant %s", c.got, c.want)
			}
		})
	}
}

func TestNotes(t *testing.T) {
	for _, c := range []struct {
		name   string
		series *climate.Series
		want   string // part of the only note, "" for no note
	}{
		{"four autumns", winters(t, "10-01", "10-02", "10-03", "10-04"), "Only 4 autumns"},
		{"ten autumns", winters(t, slices.Repeat([]string{"10-01"}, 10)...), ""},
		{"all freeze in August", winters(t, slices.Repeat([]string{"08-01"}, 10)...), "freezes in August already"},
	} {
		t.Run(c.name, func(t *testing.T) {
			notes := strings.Join(c.series.Freeze(climate.Frost, climate.Options{}).Notes, "\n")
			if !strings.Contains(notes, c.want) || (c.want == "") != (notes == "") {
				t.Errorf("notes %q, want %q", notes, c.want)
			}
		})
	}
}

func TestStale(t *testing.T) {
	f := winters(t, "10-01").Freeze(climate.Frost, climate.Options{})
	if got := f.Stale(day(t, "2003-07-30"), words.Format{}); got != "" {
		t.Errorf("after 364 days: %q, want nothing", got)
	}
	if got := f.Stale(day(t, "2003-07-31"), words.Format{}); !strings.Contains(got, "last seen on July 31, 2002") {
		t.Errorf("after a year: %q, want the day last seen", got)
	}
	f.Published = true
	if got := f.Stale(day(t, "2093-07-31"), words.Format{}); got != "" {
		t.Errorf("published normals: %q, want nothing", got)
	}
}

func TestParseThreshold(t *testing.T) {
	for _, c := range []struct {
		in   string
		want climate.Threshold
	}{
		{"32F", climate.Frost}, {"0C", climate.Frost}, {"28 °F", climate.HardFreeze}, {"-2.2 °c", climate.HardFreeze},
		{" 28f ", climate.HardFreeze}, {"24F", -44}, {"36F", 22},
	} {
		if got, err := climate.ParseThreshold(c.in); err != nil || got != c.want {
			t.Errorf("ParseThreshold(%q) = %d, %v; want %d", c.in, got, err, c.want)
		}
	}
	for _, in := range []string{"", "32", "0", "F", "°C", "1e1C", "NaNF", "32C", "-40F", "28F F", "0x1C", "- 2C"} {
		if got, err := climate.ParseThreshold(in); err == nil {
			t.Errorf("ParseThreshold(%q) = %d, want an error", in, got)
		} else if !strings.Contains(err.Error(), fmt.Sprintf("%q", in)) {
			t.Errorf("ParseThreshold(%q): error %q does not quote the input", in, err)
		}
	}
}

func TestThresholdInWords(t *testing.T) {
	for _, c := range []struct {
		t        climate.Threshold
		str, has string
	}{
		{climate.Frost, "0 °C / 32 °F", "cautious"},
		{climate.HardFreeze, "-2.2 °C / 28 °F", "made for plants"},
		{-44, "-4.4 °C / 24 °F", "colder than the point"},
		{22, "2.2 °C / 36 °F", "warmer than the point"},
	} {
		if got := c.t.String(); got != c.str {
			t.Errorf("threshold %d is %q, want %q", int(c.t), got, c.str)
		}
		if got := c.t.Meaning(); !strings.HasPrefix(got, c.str) || !strings.Contains(got, c.has) {
			t.Errorf("threshold %d means %q, want %q in it", int(c.t), got, c.has)
		}
	}
}

func TestParseUnit(t *testing.T) {
	for in, want := range map[string]climate.Unit{"": climate.UnitUnknown, "tenths": climate.TenthsC, " C ": climate.Celsius, "f": climate.Fahrenheit} {
		if got, err := climate.ParseUnit(in); err != nil || got != want {
			t.Errorf("ParseUnit(%q) = %v, %v; want %v", in, got, err, want)
		}
	}
	if got, err := climate.ParseUnit("kelvin"); err == nil {
		t.Errorf("ParseUnit(kelvin) = %v, want an error", got)
	}
}

func FuzzParseThreshold(f *testing.F) {
	for _, s := range []string{"32F", "-2.2 °C", "0c", "", "°F", "--1C", "1e9F"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := climate.ParseThreshold(s)
		if err != nil {
			return
		}
		back, err := climate.ParseThreshold(v.Celsius())
		if err != nil || back != v || math.Abs(float64(v)) > 200 {
			t.Errorf("ParseThreshold(%q) = %d, which reads back as %d: %v", s, v, back, err)
		}
	})
}

func TestBy(t *testing.T) {
	f := &climate.Freeze{Percentiles: []climate.Percentile{{P: 10, Day: civil.MonthDay{Month: 10, Day: 11}}, {P: 50, Day: civil.MonthDay{Month: 10, Day: 28}}}}
	for day, want := range map[civil.MonthDay]int{{Month: 10, Day: 10}: 0, {Month: 10, Day: 11}: 10, {Month: 10, Day: 27}: 10, {Month: 1, Day: 3}: 50} {
		if got, ok := f.By(day); got != want || !ok {
			t.Errorf("published, by %s: %d, %v; want %d", day, got, ok, want)
		}
	}
	// Four autumns, of which one is left out and one never froze.
	f = &climate.Freeze{Autumns: []climate.Autumn{
		{First: civil.Of(2020, 10, 5), Froze: true, Used: true}, {First: civil.Of(2021, 9, 1), Froze: true},
		{First: civil.Of(2023, 1, 5), Froze: true, Used: true}, {Used: true},
	}}
	for day, want := range map[civil.MonthDay]int{{Month: 10, Day: 4}: 0, {Month: 10, Day: 5}: 33, {Month: 2, Day: 1}: 66} {
		if got, ok := f.By(day); got != want || !ok {
			t.Errorf("counted, by %s: %d, %v; want %d", day, got, ok, want)
		}
	}
	if _, ok := (&climate.Freeze{}).By(civil.MonthDay{Month: 10, Day: 4}); ok {
		t.Error("nothing is known, and something is said")
	}
}
