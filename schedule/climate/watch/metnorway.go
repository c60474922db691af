package watch

import (
	"fmt"
	"time"
)

// point is one instant of MET Norway's forecast. The first two and a half days
// have one each hour, later ones one every six hours.
type point struct {
	Time string `json:"time"`
	Data struct {
		Instant struct {
			Details struct {
				C *float64 `json:"air_temperature"`
			} `json:"details"`
		} `json:"instant"`
		Next6 struct {
			Details struct {
				Min *float64 `json:"air_temperature_min"`
			} `json:"details"`
		} `json:"next_6_hours"`
	} `json:"data"`
}

// longestStep is how far apart two instants may lie and the temperature between
// them still be taken as a straight line.
const longestStep = 6 * time.Hour

// knot is an instant with its temperature.
type knot struct {
	at time.Time
	c  float64
}

// metNorway reads MET Norway's format.
func metNorway(p *properties) (*Forecast, error) {
	f := &Forecast{Source: METNorway}
	var err error
	if f.Issued, err = instant("properties.meta.updated_at", p.Meta.UpdatedAt); err != nil {
		return nil, err
	}
	if len(p.TimeSeries) > maxValues {
		return nil, fault("properties.timeseries", "%d instants: more than a forecast has", len(p.TimeSeries))
	}
	unit := p.Meta.Units["air_temperature"]
	var knots []knot
	var last time.Time
	for i := range p.TimeSeries {
		pt, at := &p.TimeSeries[i], fmt.Sprintf("properties.timeseries[%d]", i)
		t, err := instant(at+".time", pt.Time)
		if err != nil {
			return nil, err
		}
		if !t.After(last) {
			return nil, fault(at+".time", "%s does not come after the instant before it", pt.Time)
		}
		last = t
		if v := pt.Data.Next6.Details.Min; v != nil {
			c, err := celsius(at+".data.next_6_hours.details.air_temperature_min", *v, unit)
			if err != nil {
				return nil, err
			}
			f.Lows = append(f.Lows, Low{t, t.Add(6 * time.Hour), c})
		}
		v := pt.Data.Instant.Details.C
		if v == nil {
			f.Missing++
			continue
		}
		c, err := celsius(at+".data.instant.details.air_temperature", *v, unit)
		if err != nil {
			return nil, err
		}
		knots = append(knots, knot{t, c})
	}
	f.join(knots)
	if len(f.Spans) == 0 {
		return nil, fault("properties.timeseries", "not two temperatures within six hours: the service has no forecast for this point")
	}
	return f, nil
}

// join lays straight lines between instants. Where the service gives a lowest
// value between two that lie six hours apart, and it is lower than both, the line
// goes through it half way.
func (f *Forecast) join(knots []knot) {
	low := make(map[time.Time]float64, len(f.Lows))
	for _, l := range f.Lows {
		low[l.From] = l.C
	}
	for i := 1; i < len(knots); i++ {
		a, b := knots[i-1], knots[i]
		step := b.at.Sub(a.at)
		if step > longestStep {
			continue
		}
		if c, ok := low[a.at]; ok && step == longestStep && c < min(a.c, b.c) {
			mid := a.at.Add(step / 2)
			f.Spans = append(f.Spans, Span{a.at, mid, a.c, c}, Span{mid, b.at, c, b.c})
			continue
		}
		f.Spans = append(f.Spans, Span{a.at, b.at, a.c, b.c})
	}
}
