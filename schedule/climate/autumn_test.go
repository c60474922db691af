package climate_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
)

func TestAutumn(t *testing.T) {
	for _, c := range []struct {
		name        string
		first, last string
		nights      []string
		threshold   climate.Threshold
		opts        climate.Options
		want        string // first freeze, "" for none
		missing     int
		reason      string // part of why it is left out, "" if used
	}{
		{name: "exactly at the threshold counts", first: "2001-08-01", last: "2002-07-31",
			nights: []string{"2001-10-04 0", "2001-10-09 -5"}, want: "2001-10-04"},
		{name: "a tenth above it does not", first: "2001-08-01", last: "2002-07-31",
			nights: []string{"2001-10-04 0.1", "2001-10-09 -5"}, want: "2001-10-09"},
		{name: "28 °F is -22 tenths", first: "2001-08-01", last: "2002-07-31", threshold: climate.HardFreeze,
			nights: []string{"2001-10-04 -2.1", "2001-10-09 -2.2"}, want: "2001-10-09"},
		{name: "1 August belongs to the autumn", first: "2001-08-01", last: "2002-07-31",
			nights: []string{"2001-08-01 -1"}, want: "2001-08-01"},
		{name: "31 July belongs to the autumn before", first: "2001-08-01", last: "2002-07-31",
			nights: []string{"2002-07-31 -1"}, want: "2002-07-31"},
		{name: "a freeze after New Year", first: "2001-08-01", last: "2002-07-31",
			nights: []string{"2002-01-12 -3"}, want: "2002-01-12"},
		{name: "none all winter", first: "2001-08-01", last: "2002-07-31"},
		{name: "15 of 153 days missing are let pass", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2001-08-01", "2001-08-15"), "2001-10-04 -1"), want: "2001-10-04", missing: 15},
		{name: "16 of 153 are not", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2001-08-02", "2001-08-17"), "2001-10-04 -1"), want: "2001-10-04", missing: 16,
			reason: "16 of 153 days are missing"},
		{name: "missing days after New Year do not matter once it froze", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2002-01-01", "2002-07-30"), "2001-12-31 -1"), want: "2001-12-31"},
		{name: "they do if it did not", first: "2001-08-01", last: "2002-07-31",
			nights: hole(t, "2002-01-01", "2002-03-01"), missing: 60, reason: "60 of 365 days are missing"},
		{name: "a freeze in February has a window of 200 days, of which 20 may be missing", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2002-01-10", "2002-01-29"), "2002-02-17 -1"), want: "2002-02-17", missing: 20},
		{name: "but not 21", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2002-01-10", "2002-01-30"), "2002-02-17 -1"), want: "2002-02-17", missing: 21,
			reason: "21 of 200 days are missing"},
		{name: "a week's hole before the freeze is let pass", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2001-10-01", "2001-10-07"), "2001-10-08 -1"), want: "2001-10-08", missing: 7},
		{name: "eight days are not", first: "2001-08-01", last: "2002-07-31",
			nights: append(hole(t, "2001-10-01", "2001-10-08"), "2001-10-09 -1"), want: "2001-10-09", missing: 8,
			reason: "no values on the 8 days before the first freeze"},
		{name: "unless the shop says so", first: "2001-08-01", last: "2002-07-31", opts: climate.Options{MaxGap: 8},
			nights: append(hole(t, "2001-10-01", "2001-10-08"), "2001-10-09 -1"), want: "2001-10-09", missing: 8},
		{name: "data begin in the autumn", first: "2001-11-01", last: "2002-07-31",
			nights: []string{"2001-11-01 -1"}, want: "2001-11-01", missing: 92, reason: "the data begin on 2001-11-01"},
		{name: "the autumn is not over", first: "2001-08-01", last: "2001-10-31",
			nights: []string{"2001-10-04 -1"}, want: "2001-10-04", missing: 61, reason: "the data end on 2001-10-31"},
		{name: "a leap winter has 366 days", first: "2003-08-01", last: "2004-06-01", missing: 60,
			reason: "60 of 366 days are missing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			as := steady(t, c.first, c.last, c.nights...).Autumns(c.threshold, c.opts)
			if len(as) != 1 {
				t.Fatalf("%d autumns, want 1: %+v", len(as), as)
			}
			a := as[0]
			if a.First.String() != c.want || a.Froze != (c.want != "") || a.Missing != c.missing {
				t.Errorf("first %s (froze %v), %d missing; want %s, %d", a.First, a.Froze, a.Missing, c.want, c.missing)
			}
			if a.Used != (c.reason == "") || !strings.Contains(a.Reason, c.reason) || a.Used != (a.Reason == "") {
				t.Errorf("used %v, reason %q; want %q", a.Used, a.Reason, c.reason)
			}
		})
	}
}

func TestAutumnsListYearsWithoutAnyData(t *testing.T) {
	s := steady(t, "2000-08-01", "2001-07-31", "2000-10-01 -1")
	s.Minima = append(s.Minima, steady(t, "2003-08-01", "2004-07-31", "2003-10-02 -1").Minima...)
	var got []int
	var used []bool
	for _, a := range s.Autumns(climate.Frost, climate.Options{}) {
		got, used = append(got, a.Year), append(used, a.Used)
	}
	if !slices.Equal(got, []int{2000, 2001, 2002, 2003}) || !slices.Equal(used, []bool{true, false, false, true}) {
		t.Errorf("autumns %v, used %v", got, used)
	}
}

// drawSeries draws some years of nights with holes, round the freezing point.
func drawSeries(t *rapid.T, holes bool) *climate.Series {
	s := &climate.Series{Station: "XX000000001"}
	first := civil.Of(rapid.IntRange(1990, 2010).Draw(t, "year"), 8, 1)
	years := rapid.IntRange(1, 6).Draw(t, "years")
	for d := first; d < first.AddMonths(12*years); d++ {
		// A cosine is not needed: a night in about eighty freezes, whenever.
		v := rapid.IntRange(-30, 250).Draw(t, "night")
		if holes && v%13 == 0 {
			continue
		}
		s.Minima = append(s.Minima, climate.Minimum{Day: d, Tenths: v})
	}
	return s
}

func TestAColderNightNeverMakesTheFreezeLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeries(t, true)
		before := s.Autumns(climate.HardFreeze, climate.Options{})
		i := rapid.IntRange(0, len(s.Minima)-1).Draw(t, "which")
		s.Minima[i].Tenths -= rapid.IntRange(0, 300).Draw(t, "colder by")
		for j, a := range s.Autumns(climate.HardFreeze, climate.Options{}) {
			b := before[j]
			if b.Froze && (!a.Froze || a.First > b.First) {
				t.Fatalf("autumn %d froze on %s, then, colder, on %s", a.Year, b.First, a.First)
			}
		}
	})
}

func TestAWarmerThresholdNeverFreezesLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeries(t, false)
		hard, frost := s.Freeze(climate.HardFreeze, climate.Options{}), s.Freeze(climate.Frost, climate.Options{})
		for p := 1; p < 100; p++ {
			h, ok := hard.Deadline(p)
			if f, ok2 := frost.Deadline(p); ok && (!ok2 || inSeason(f) > inSeason(h)) {
				t.Fatalf("%d %%: 28 °F by %s, 32 °F by %s", p, h, f)
			}
		}
	})
}

// inSeason counts days from 1 August, in a year with a 29 February.
func inSeason(md civil.MonthDay) int {
	if md.Month >= 8 {
		return int(md.In(2003) - civil.Of(2003, 8, 1))
	}
	return int(md.In(2004) - civil.Of(2003, 8, 1))
}
