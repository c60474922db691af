package climate

import (
	"cmp"
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
)

// Autumn is one turn of the year, from 1 August to the next 31 July, so that a
// first freeze in January still belongs to the autumn before it.
type Autumn struct {
	Year    int       // the calendar year of its 1 August
	First   civil.Day // first day at or below the threshold among the usable days; 0 for none
	Froze   bool      // whether there is such a day
	Missing int       // days without a usable minimum in its window, see [Series.Autumns]
	Used    bool      // whether it counts
	Reason  string    // why it does not
}

// Autumns finds the first freeze of each autumn that the series touches, by
// year.
//
// An autumn counts if it is complete enough. Its window is 1 August to
// 31 December, whenever in it the freeze came: were it to end with the
// freeze, autumns that freeze early would be let in more easily than others. If
// nothing froze by then, the window runs on to the day before the first freeze, and
// to 31 July if there is none. An autumn is left out when more days of its
// window are missing than o.MaxMissing allows, or when more than o.MaxGap
// missing days lie directly before the first freeze, which then may have come
// earlier.
func (s *Series) Autumns(t Threshold, o Options) []Autumn {
	if len(s.Minima) == 0 {
		return nil
	}
	var as []Autumn
	rest := s.Minima
	last := seasonYear(s.Minima[len(s.Minima)-1].Day)
	for y := seasonYear(s.Minima[0].Day); y <= last; y++ {
		end := turn(y + 1)
		n := 0
		for n < len(rest) && rest[n].Day < end {
			n++
		}
		w := window{year: y, days: rest[:n], dataFrom: s.Minima[0].Day, dataTo: s.LastSeen()}
		as = append(as, w.autumn(t, o))
		rest = rest[n:]
	}
	return as
}

// LastSeen returns the last day with a usable minimum. Stations close and are
// renamed, and a file that has gone stale looks like any other.
func (s *Series) LastSeen() civil.Day {
	if len(s.Minima) == 0 {
		return 0
	}
	return s.Minima[len(s.Minima)-1].Day
}

// turn is the day on which the year turns: 1 August.
func turn(year int) civil.Day { return civil.Of(year, time.August, 1) }

func seasonYear(d civil.Day) int {
	if y := d.Year(); d >= turn(y) {
		return y
	} else {
		return y - 1
	}
}

// window is one autumn's share of a series.
type window struct {
	year             int
	days             []Minimum
	dataFrom, dataTo civil.Day // of the whole series
}

func (w window) autumn(t Threshold, o Options) Autumn {
	a := Autumn{Year: w.year}
	before := turn(w.year) - 1 // the last day with a value before the freeze
	for _, m := range w.days {
		if m.Tenths <= int(t) {
			a.First, a.Froze = m.Day, true
			break
		}
		before = m.Day
	}
	end := w.end(a) // exclusive
	length := int(end - turn(w.year))
	a.Missing = length
	for _, m := range w.days {
		if m.Day < end {
			a.Missing--
		}
	}
	gap := int(a.First - before - 1)
	switch {
	case a.Missing*100 > cmp.Or(o.MaxMissing, defaultMaxMissing)*length:
		a.Reason = w.incomplete(a, length)
	case a.Froze && gap > cmp.Or(o.MaxGap, defaultMaxGap):
		a.Reason = fmt.Sprintf("no values on the %d days before the first freeze seen, which may have come earlier", gap)
	default:
		a.Used = true
	}
	return a
}

// end returns the day after the window.
func (w window) end(a Autumn) civil.Day {
	newYear := civil.Of(w.year+1, time.January, 1)
	if !a.Froze {
		return turn(w.year + 1)
	}
	return max(newYear, a.First)
}

func (w window) incomplete(a Autumn, length int) string {
	switch {
	case w.dataFrom > turn(w.year):
		return fmt.Sprintf("the data begin on %s, %d of %d days are missing", w.dataFrom, a.Missing, length)
	case w.dataTo < turn(w.year)+civil.Day(length)-1:
		return fmt.Sprintf("the data end on %s, %d of %d days are missing", w.dataTo, a.Missing, length)
	}
	return fmt.Sprintf("%d of %d days are missing", a.Missing, length)
}
