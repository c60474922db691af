package watch

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// layer is one quantity of a gridpoint forecast. A value holds for the whole of
// its interval; equal values of hours that follow on each other stand as one.
type layer struct {
	Unit   string `json:"uom"`
	Values []struct {
		ValidTime string   `json:"validTime"`
		Value     *float64 `json:"value"`
	} `json:"values"`
}

// gridpoint reads the National Weather Service's format.
func gridpoint(p *properties) (*Forecast, error) {
	f := &Forecast{Source: NWS}
	var err error
	if f.Issued, err = instant("properties.updateTime", p.UpdateTime); err != nil {
		return nil, err
	}
	if f.Spans, err = p.Temperature.spans("properties.temperature", &f.Missing); err != nil {
		return nil, err
	}
	if len(f.Spans) == 0 {
		return nil, fault("properties.temperature.values", "not one temperature: the service has no forecast for this point")
	}
	if p.MinTemperature != nil {
		lows, err := p.MinTemperature.spans("properties.minTemperature", &f.Missing)
		if err != nil {
			return nil, err
		}
		for _, s := range lows {
			f.Lows = append(f.Lows, Low{s.From, s.To, s.Begin})
		}
	}
	return f, nil
}

// spans reads the values of a layer; those that are missing are counted.
func (l *layer) spans(where string, missing *int) ([]Span, error) {
	if len(l.Values) > maxValues {
		return nil, fault(where+".values", "%d values: more than a forecast has", len(l.Values))
	}
	var out []Span
	for i, v := range l.Values {
		at := fmt.Sprintf("%s.values[%d]", where, i)
		from, to, err := interval(at+".validTime", v.ValidTime)
		if err != nil {
			return nil, err
		}
		if v.Value == nil {
			*missing++
			continue
		}
		c, err := celsius(at+".value", *v.Value, l.Unit)
		if err != nil {
			return nil, err
		}
		out = append(out, Span{from, to, c, c})
	}
	slices.SortStableFunc(out, func(a, b Span) int { return a.From.Compare(b.From) })
	for i := 1; i < len(out); i++ {
		if out[i].From.Before(out[i-1].To) {
			return nil, fault(where+".values", "two values for %s", out[i].From.Format(time.RFC3339))
		}
	}
	return out, nil
}

// interval reads an ISO 8601 interval of a start and a duration, both as the
// services write them: 2026-10-08T06:00:00+00:00/PT6H.
func interval(where, s string) (from, to time.Time, err error) {
	start, length, ok := strings.Cut(s, "/")
	if !ok {
		return from, to, fault(where, "%q: want a start and a duration, as 2026-10-08T06:00:00+00:00/PT6H", s)
	}
	if from, err = instant(where, start); err != nil {
		return from, to, err
	}
	d, err := duration(where, length)
	return from, from.Add(d), err
}

// longest is the longest interval of a forecast that is believed.
const longest = 31 * 24 * time.Hour

// duration reads an ISO 8601 duration of weeks, days, hours, minutes and seconds.
// Years and months have no fixed length, and no forecast uses them.
func duration(where, s string) (time.Duration, error) {
	bad := fault(where, "duration %q: want days and hours such as PT6H or P1DT6H", s)
	rest, ok := strings.CutPrefix(s, "P")
	if !ok || rest == "" {
		return 0, bad
	}
	date, clock, hasClock := strings.Cut(rest, "T")
	if hasClock && clock == "" {
		return 0, bad
	}
	day := 24 * time.Hour
	a, ok1 := amounts(date, "WD", []time.Duration{7 * day, day})
	b, ok2 := amounts(clock, "HMS", []time.Duration{time.Hour, time.Minute, time.Second})
	switch d := a + b; {
	case !ok1 || !ok2:
		return 0, bad
	case d <= 0 || d > longest:
		return 0, fault(where, "duration %q: want more than none and at most 31 days", s)
	default:
		return d, nil
	}
}

// amounts reads whole numbers, each before its letter, the letters in order.
func amounts(s, letters string, worth []time.Duration) (sum time.Duration, ok bool) {
	next := 0
	for s != "" {
		n := 0
		for n < len(s) && s[n] >= '0' && s[n] <= '9' {
			n++
		}
		if n == 0 || n > 6 || n == len(s) {
			return 0, false
		}
		k := strings.IndexByte(letters[next:], s[n])
		if k < 0 {
			return 0, false
		}
		v, err := strconv.Atoi(s[:n])
		if err != nil {
			return 0, false
		}
		sum += time.Duration(v) * worth[next+k]
		next, s = next+k+1, s[n+1:]
	}
	return sum, true
}
