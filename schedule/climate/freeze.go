package climate

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule/civil"
)

// Freeze is what is known about the first freeze of the autumn at a station.
type Freeze struct {
	Station, Name    string
	Threshold        Threshold
	Autumns          []Autumn     // by year; none if Published
	Percentiles      []Percentile // by P; those that lie beyond the autumns that froze are not listed
	FreezesInPercent float64      // share of autumns that freeze, 0 to 100; -1 if not known
	Dropped          []Drop       // values left out, by flag
	LastSeen         civil.Day    // last day with a usable value; no day if Published
	Published        bool         // the percentiles are a weather service's own
	Notes            []string     // what had to be assumed, in plain sentences
	// Recent are the last minima of the series: what came, to hold against what
	// was forecast. Not kept with the rest.
	Recent []Minimum `json:"-"`
}

// recentDays is how many days of a series are handed on as they are: last winter
// and this one.
const recentDays = 500

// Percentile is the day by which the first freeze has come in P percent of
// autumns.
type Percentile struct {
	P   int // 1 to 99
	Day civil.MonthDay
}

// notKnown is the share of freezing autumns when there is nothing to tell it.
const notKnown = -1

// few is the number of autumns below which the 10 % day is merely the earliest
// one seen.
const few = 10

// Freeze works out the days by which the first freeze at or below the
// threshold has come, in steps of 10 percent.
//
// The percentile is that of the empirical distribution without interpolation
// (definition 1 of Hyndman and Fan, "Sample Quantiles in Statistical Packages",
// The American Statistician 50, 1996; from memory): of n autumns used, the
// ceil(n·p/100)-th earliest day, so it is always a day on which it froze. An
// autumn that never froze counts as later than any day.
func (s *Series) Freeze(t Threshold, o Options) *Freeze {
	f := &Freeze{
		Station: s.Station, Name: s.Name, Threshold: t,
		Autumns: s.Autumns(t, o), FreezesInPercent: notKnown,
		Dropped: slices.Clone(s.Dropped), LastSeen: s.LastSeen(), Notes: slices.Clone(s.Notes),
		Recent: slices.Clone(s.Minima[max(0, len(s.Minima)-recentDays):]),
	}
	used, froze := f.counts()
	if used > 0 {
		f.FreezesInPercent = 100 * float64(froze) / float64(used)
	}
	if used > 0 && used < few {
		f.Notes = append(f.Notes, fmt.Sprintf("Only %s are known, and a deadline takes at least %d: keep the shop's own day, or load a station's published freeze normals.", autumns(used), few))
	}
	if day, ok := f.percentile(50); ok && day.Month == time.August {
		f.Notes = append(f.Notes, "In half of the autumns it freezes in August already: check the station and the unit of the file.")
	}
	for p := 10; p <= 90; p += 10 {
		if day, ok := f.percentile(p); ok {
			f.Percentiles = append(f.Percentiles, Percentile{p, day})
		}
	}
	return f
}

// counts returns how many autumns are used, and how many of those froze.
func (f *Freeze) counts() (used, froze int) {
	for _, a := range f.Autumns {
		count(&used, a.Used)
		count(&froze, a.Used && a.Froze)
	}
	return used, froze
}

// percentile works out one percentile from the autumns.
func (f *Freeze) percentile(p int) (civil.MonthDay, bool) {
	if p < 1 || p > 99 {
		return civil.MonthDay{}, false
	}
	used := 0
	var days []civil.MonthDay
	for _, a := range f.Autumns {
		count(&used, a.Used)
		if a.Used && a.Froze {
			days = append(days, monthDay(a.First))
		}
	}
	k := (used*p + 99) / 100
	if k < 1 || k > len(days) {
		return civil.MonthDay{}, false
	}
	slices.SortFunc(days, inSeason)
	return days[k-1], true
}

func monthDay(d civil.Day) civil.MonthDay {
	_, m, day := d.Date()
	return civil.MonthDay{Month: m, Day: day}
}

// inSeason orders days of the year from 1 August to 31 July.
func inSeason(a, b civil.MonthDay) int {
	turned := func(m time.Month) int { return (int(m) + 12 - int(time.August)) % 12 }
	return cmp.Or(cmp.Compare(turned(a.Month), turned(b.Month)), cmp.Compare(a.Day, b.Day))
}

// Deadline returns the day of the year by which the first freeze has come in p
// percent of autumns, p from 1 to 99. There is none where fewer than ten autumns
// are known, where fewer than half of them freeze, where that many do not, or where a published table has no such
// percentile; [Freeze.Explain] says which.
func (f *Freeze) Deadline(p int) (civil.MonthDay, bool) {
	if f.mostlyMild() || f.tooFew() {
		return civil.MonthDay{}, false
	}
	return f.at(p)
}

// tooFew reports whether the autumns used are too few to tell a day that comes in
// one of ten.
func (f *Freeze) tooFew() bool {
	used, _ := f.counts()
	return !f.Published && used > 0 && used < few
}

// mostlyMild reports whether most autumns are known to pass without a freeze.
func (f *Freeze) mostlyMild() bool { return f.FreezesInPercent >= 0 && f.FreezesInPercent < 50 }

// at returns a percentile as listed, or else as worked out from the autumns,
// of which published normals have none.
func (f *Freeze) at(p int) (civil.MonthDay, bool) {
	for _, q := range f.Percentiles {
		if q.P == p {
			return q.Day, true
		}
	}
	return f.percentile(p)
}

// By returns in which share of autumns, in percent, the first freeze has come by
// a day of the year: counted where the autumns are known, else the largest
// published share whose day is not later. False if nothing tells.
func (f *Freeze) By(day civil.MonthDay) (percent int, ok bool) {
	used, come := 0, 0
	for _, a := range f.Autumns {
		count(&used, a.Used)
		count(&come, a.Used && a.Froze && inSeason(monthDay(a.First), day) <= 0)
	}
	if used > 0 {
		return 100 * come / used, true
	}
	for _, p := range f.Percentiles {
		if inSeason(p.Day, day) <= 0 {
			percent = max(percent, p.P)
		}
	}
	return percent, len(f.Percentiles) > 0
}
