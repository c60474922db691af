package watch

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"
)

// Source is a forecast's format.
type Source string

// The formats that this package reads.
const (
	NWS       Source = "nws"        // US National Weather Service, gridpoint JSON
	METNorway Source = "met-norway" // MET Norway, Locationforecast 2.0 compact
)

// Credit is what whoever shows the forecast owes its source.
func (s Source) Credit() string {
	if s == METNorway {
		return "Data from MET Norway"
	}
	return "Data from the US National Weather Service"
}

// Forecast is the temperature to come at one point, in °C.
type Forecast struct {
	Source  Source    `json:"source"`
	Issued  time.Time `json:"issued"`
	Spans   []Span    `json:"spans"` // in order, none over another; there may be holes
	Lows    []Low     `json:"lows"`  // in order of their beginning
	Missing int       `json:"missing"`
}

// Span is a stretch of time over which the temperature goes from one value to
// another in a straight line.
type Span struct {
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
	Begin float64   `json:"begin"`
	End   float64   `json:"end"`
}

// Low is the lowest temperature that the service itself gives for a stretch of
// time.
type Low struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	C    float64   `json:"c"`
}

// Age is how old the forecast is.
func (f *Forecast) Age(now time.Time) time.Duration { return now.Sub(f.Issued) }

// Fault is what is wrong with a forecast, and where in it.
type Fault struct {
	Where string // as "properties.temperature.values[3].validTime", or "line 41"
	What  string
}

// Error writes "where: what".
func (f *Fault) Error() string {
	if f.Where == "" {
		return f.What
	}
	return f.Where + ": " + f.What
}

func fault(where, format string, args ...any) error {
	return &Fault{where, fmt.Sprintf(format, args...)}
}

// Limits on what is read: a whole gridpoint forecast is some 500 kB, with about
// 200 values a layer.
const (
	MaxBytes  = 8 << 20
	maxValues = 2000
)

// coldest and warmest are what no place on earth passes in a forecast, in °C.
const coldest, warmest = -95, 65

// Parse reads a forecast of either format. The error is a [*Fault] that says what
// is wrong and where.
func Parse(body []byte) (*Forecast, error) {
	if len(body) > MaxBytes {
		return nil, fault("", "%d bytes: larger than any forecast for one point", len(body))
	}
	var doc document
	if err := json.Unmarshal(body, &doc); err != nil {
		return nil, describe(body, err)
	}
	switch p := &doc.Properties; {
	case p.TimeSeries != nil:
		return metNorway(p)
	case p.Temperature != nil:
		return gridpoint(p)
	}
	return nil, fault("properties", "neither a gridpoint forecast of the National Weather Service (no \"temperature\") nor a "+
		"Locationforecast of MET Norway (no \"timeseries\"): check the address or the file")
}

// document is what both formats have of interest. Layers of other things are not
// looked at.
type document struct {
	Properties properties `json:"properties"`
}

type properties struct {
	// The National Weather Service's.
	UpdateTime     string `json:"updateTime"`
	Temperature    *layer `json:"temperature"`
	MinTemperature *layer `json:"minTemperature"`
	// MET Norway's.
	Meta struct {
		UpdatedAt string            `json:"updated_at"`
		Units     map[string]string `json:"units"`
	} `json:"meta"`
	TimeSeries []point `json:"timeseries"`
}

// describe says where a body is no JSON, or JSON of another shape.
func describe(body []byte, err error) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fault(lineOf(body, syntax.Offset), "not JSON (%v): the download was cut off, or this is another page", syntax)
	case errors.As(err, &kind):
		return fault(kind.Field, "a %s where the format has another kind of value (%s)", kind.Value, lineOf(body, kind.Offset))
	}
	return fault("", "%v", err)
}

func lineOf(body []byte, offset int64) string {
	line := 1
	for _, c := range body[:min(int(offset), len(body))] {
		if c == '\n' {
			line++
		}
	}
	return fmt.Sprintf("line %d", line)
}

// celsius checks a temperature and brings it to °C.
func celsius(where string, v float64, unit string) (float64, error) {
	switch unit {
	case "celsius", "wmoUnit:degC", "unit:degC":
	case "fahrenheit", "wmoUnit:degF", "unit:degF":
		v = (v - 32) / 1.8
	case "kelvin", "wmoUnit:K", "unit:K":
		v -= 273.15
	case "":
		return 0, fault(where, "no unit: without one a temperature means nothing")
	default:
		return 0, fault(where, "unit %q: want °C, °F or K", unit)
	}
	if math.IsNaN(v) || v < coldest || v > warmest {
		return 0, fault(where, "%.1f °C: no place is that cold or that warm", v)
	}
	return v, nil
}

func instant(where, s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return t, fault(where, "%q: want an instant as 2026-10-08T06:00:00+00:00", s)
	}
	if y := t.Year(); y < 1990 || y > 2200 {
		return t, fault(where, "%q: a year that no forecast is for", s)
	}
	return t.UTC(), nil
}
