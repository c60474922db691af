package forecast

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"time"

	"bellbuoy/schedule/civil"
)

// Season is the running time of a year at one place: which days a boat is
// afloat, and how much of the year's running falls on each. It is built once
// for a place and shared by its boats.
type Season struct {
	// cum[leap][i] is the share of the year's running before its day i,
	// counted from 0; the last entry is 1.
	cum [2][]float64
}

// seasonsMax bounds every exposure asked for, so that no day overflows.
const seasonsMax = 1000

// NewSeason returns the season between launch, the first day afloat, and
// haulOut, the first day ashore again; it may span the turn of the year. Without
// a haul-out boats run all year round, and launch says nothing.
//
// profile holds how much of a year's running falls on each whole month, January
// first, in any unit; a month cut by launch or haul-out counts in proportion to
// its days afloat. The zero profile makes all days alike. Whatever the profile,
// a calendar year of running is exactly 1 season.
//
// It is an error if a haul-out has no launch, if the two are the same day or
// not days of the year, or if the profile leaves no running between them.
func NewSeason(launch, haulOut civil.MonthDay, profile [12]float64) (*Season, error) {
	if err := checkSeason(launch, haulOut); err != nil {
		return nil, err
	}
	for i, p := range profile {
		if p < 0 || math.IsNaN(p) || math.IsInf(p, 0) {
			return nil, fmt.Errorf("month profile: %s is %v: want a share of the year's running, 0 or more", time.Month(i+1), p)
		}
	}
	s := new(Season)
	for leap, year := range [2]int{2001, 2000} {
		s.cum[leap] = yearTable(year, launch, haulOut, profile)
		if s.cum[leap] == nil {
			return nil, fmt.Errorf("month profile: no running between %s and %s: give at least one of those months a share", launch, haulOut)
		}
	}
	return s, nil
}

// checkSeason refuses ends that are not days of the year or enclose nothing.
func checkSeason(launch, haulOut civil.MonthDay) error {
	for _, md := range []civil.MonthDay{launch, haulOut} {
		if !md.IsZero() && (md.Month < 1 || md.Month > 12 || md.Day < 1 || md.Day > 31) {
			return fmt.Errorf("season: month %d day %d is not a day of the year", md.Month, md.Day)
		}
	}
	switch {
	case haulOut.IsZero():
		return nil
	case launch.IsZero():
		return fmt.Errorf("season: haul-out on %s but no launch day: give both, or neither where boats run all year", haulOut)
	case launch == haulOut:
		return errors.New("season: launch and haul-out are both " + launch.String() + ": give two days, or neither where boats run all year")
	}
	return nil
}

// yearTable adds up the running of one year day by day and scales it to 1. It
// returns nil if there is none.
func yearTable(year int, launch, haulOut civil.MonthDay, profile [12]float64) []float64 {
	first, next := civil.Of(year, time.January, 1), civil.Of(year+1, time.January, 1)
	cum := make([]float64, 1, 367)
	for d := first; d < next; d++ {
		w := 0.0
		if afloat(d, launch.In(year), haulOut.In(year)) {
			w = dayWeight(year, d.Month(), profile)
		}
		cum = append(cum, cum[len(cum)-1]+w)
	}
	total := cum[len(cum)-1]
	if total == 0 {
		return nil
	}
	for i := range cum {
		cum[i] /= total
	}
	return cum
}

// dayWeight returns a day's part of its month's running; of the zero profile
// every day weighs 1.
func dayWeight(year int, m time.Month, profile [12]float64) float64 {
	if profile == [12]float64{} {
		return 1
	}
	return profile[m-1] / float64(civil.Of(year, m+1, 1)-civil.Of(year, m, 1))
}

// afloat reports whether d lies between the two days of its own year.
func afloat(d, launch, haulOut civil.Day) bool {
	switch {
	case haulOut == 0:
		return true
	case launch < haulOut:
		return launch <= d && d < haulOut
	}
	return d < haulOut || launch <= d
}

// place returns the year of the day and the running of that year before it.
func (s *Season) place(d civil.Day) (year int, share float64) {
	year = d.Year()
	return year, s.cum[leap(year)][d-civil.Of(year, time.January, 1)]
}

// Exposure returns the running time from the morning of one day to the morning
// of the other, in seasons: [from, to). It adds up over adjoining spans and is
// negative if to comes before from.
func (s *Season) Exposure(from, to civil.Day) float64 {
	y0, c0 := s.place(from)
	y1, c1 := s.place(to)
	return float64(y1-y0) + (c1 - c0)
}

// DayAfter returns the first day by whose morning the exposure, in seasons,
// has accrued since the morning of from. That is from itself for 0 or less.
// More than 1000 seasons count as 1000.
func (s *Season) DayAfter(from civil.Day, exposure float64) civil.Day {
	if exposure <= 0 {
		return from
	}
	year, c := s.place(from)
	target := c + math.Min(exposure, seasonsMax) - rounding
	// A whole number of seasons is complete at a haul-out, not on the New
	// Year's Day after it: the share looked for is in (0, 1].
	whole := math.Ceil(target) - 1
	year += int(whole)
	cum := s.cum[leap(year)]
	share := target - whole
	i := sort.Search(len(cum)-1, func(i int) bool { return cum[i] >= share })
	return max(from, civil.Of(year, time.January, 1)+civil.Day(i))
}

// rounding forgives what additions of seasons lose, so that a day's exposure
// leads back to that day. It is far below one day's share of a year.
const rounding = 1e-10

// leap returns 1 for leap years of the Gregorian calendar, else 0.
func leap(year int) int {
	if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
		return 1
	}
	return 0
}
