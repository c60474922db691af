package watch

import (
	"math"
	"time"

	"bellbuoy/schedule/civil"
)

// Night is one night of a forecast, from noon to noon by the place's clock. It
// goes by the day on which it ends: "the night to Saturday".
type Night struct {
	To      civil.Day // the day in whose morning it ends
	Lead    int       // how many nights ahead of the forecast it is: 1 for the first
	Low     float64   // lowest temperature, °C, as forecast for the point; only if Known
	Known   bool      // the cold hours are covered well enough to judge it
	Covered float64   // hours of it that the forecast covers

	spans []Span // cut to the night
}

// The cold hours of a night, by the clock, and how many of them a forecast must
// cover for the night to be judged. Common practice, no source.
const (
	coldFrom, coldTo = 0, 8
	coldNeeded       = 6 * time.Hour
)

// Nights are the nights from the one that has not ended at an instant, as far
// as the forecast goes, at most so many.
func (f *Forecast) Nights(now time.Time, zone *time.Location, most int) []Night {
	first := nightAt(now, zone, 12)
	issued := nightAt(f.Issued, zone, coldTo) // its first night is the next that has cold hours left
	var out []Night
	for n := range most {
		night := f.night(first+civil.Day(n), zone)
		if night.Covered == 0 {
			continue
		}
		night.Lead = max(1, int(night.To-issued)+1)
		out = append(out, night)
	}
	return out
}

// nightAt is the night that an instant lies in, or the next one after an hour of
// the day: until then it is the one that ends that day.
func nightAt(t time.Time, zone *time.Location, until int) civil.Day {
	day := civil.FromTime(t.In(zone))
	if !t.Before(day.At(until, 0, zone)) {
		day++
	}
	return day
}

func (f *Forecast) night(to civil.Day, zone *time.Location) Night {
	n := Night{To: to, Low: math.Inf(1)}
	from, until := (to-1).At(12, 0, zone), to.At(12, 0, zone)
	coldFrom, coldUntil := to.At(coldFrom, 0, zone), to.At(coldTo, 0, zone)
	var cold time.Duration
	for _, s := range f.Spans {
		c, ok := s.cut(from, until)
		if !ok {
			continue
		}
		n.spans = append(n.spans, c)
		n.Covered += c.To.Sub(c.From).Hours()
		n.Low = min(n.Low, c.Begin, c.End)
		if k, ok := s.cut(coldFrom, coldUntil); ok {
			cold += k.To.Sub(k.From)
		}
	}
	n.Known = cold >= coldNeeded
	for _, l := range f.Lows {
		mid := l.From.Add(l.To.Sub(l.From) / 2)
		if n.Known && !mid.Before(from) && mid.Before(until) {
			n.Low = min(n.Low, l.C)
		}
	}
	if !n.Known {
		n.Low = 0
	}
	return n
}

// cut is the part of a span that lies in a window.
func (s Span) cut(from, until time.Time) (Span, bool) {
	c := s
	if c.From.Before(from) {
		c.From, c.Begin = from, s.at(from)
	}
	if c.To.After(until) {
		c.To, c.End = until, s.at(until)
	}
	return c, c.From.Before(c.To)
}

func (s Span) at(t time.Time) float64 {
	return s.Begin + (s.End-s.Begin)*float64(t.Sub(s.From))/float64(s.To.Sub(s.From))
}

// HoursAtOrBelow is for how long the night is at or below a temperature in °C.
func (n *Night) HoursAtOrBelow(c float64) float64 {
	sum := 0.0
	for _, s := range n.spans {
		hours := s.To.Sub(s.From).Hours()
		low, high := min(s.Begin, s.End), max(s.Begin, s.End)
		switch {
		case high <= c:
			sum += hours
		case low <= c: // a line that crosses it
			sum += hours * (c - low) / (high - low)
		}
	}
	return sum
}

// coldestFor is the temperature that the night is at or below for so many hours,
// to a hundredth of a degree; false if it does not last that long.
func (n *Night) coldestFor(hours float64) (float64, bool) {
	low, high := float64(coldest), float64(warmest)
	if n.HoursAtOrBelow(high) < hours {
		return 0, false
	}
	for high-low > 0.005 {
		mid := (low + high) / 2
		if n.HoursAtOrBelow(mid) >= hours {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}
