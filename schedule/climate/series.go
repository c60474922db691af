package climate

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule/civil"
)

// Options say how to read a file and which autumns to trust. The zero value
// holds the defaults.
type Options struct {
	// Station picks one station of a file that holds several.
	Station string
	// Unit of the temperatures in a daily summaries file. Unknown means that the
	// header or the values must leave no doubt; the GHCN-Daily formats are always in tenths of °C.
	Unit Unit
	// Columns of a daily summaries file.
	Columns Columns
	// MaxMissing is the share of days, in percent, that an autumn may lack; 0
	// stands for 10.
	MaxMissing int
	// MaxGap is the number of days without a value that may lie directly before
	// the first freeze; 0 stands for 7.
	MaxGap int
}

// Our own choices, no source: one day in ten, and one week.
const (
	defaultMaxMissing = 10
	defaultMaxGap     = 7
)

// Columns names the columns of a daily summaries file, in any case. Empty names
// stand for STATION, DATE and TMIN; with others, any weather service's CSV of
// one day a line can be read.
type Columns struct{ Station, Date, TMin string }

func (c Columns) orDefault() Columns {
	return Columns{cmp.Or(c.Station, "STATION"), cmp.Or(c.Date, "DATE"), cmp.Or(c.TMin, "TMIN")}
}

// Minimum is the lowest temperature of one day, in tenths of °C.
type Minimum struct {
	Day    civil.Day
	Tenths int
}

// Series holds one station's usable daily minima.
type Series struct {
	Station string    // identifier as in the file, "" if it has none
	Name    string    // as in the file, often ""
	Minima  []Minimum // by day, each day once
	Dropped []Drop    // by flag
	Notes   []string  // what had to be assumed, in plain sentences
}

// reading is a minimum in the unit of its file.
type reading struct {
	day   civil.Day
	value float64
}

// missing is the value that all these files write for "no value".
const missing = -9999

// collector gathers the readings of one station while a file is read.
type collector struct {
	want          string // the station asked for, "" for the only one
	station, name string
	others        []string // stations passed over, the first few
	raw           []reading
	dropped       map[string]int
	faults        Faults
}

func newCollector(o Options) *collector {
	return &collector{want: strings.TrimSpace(o.Station), dropped: map[string]int{}}
}

// belongs reports whether a record is of the station wanted.
func (c *collector) belongs(line int, station string) bool {
	station = strings.TrimSpace(station)
	if c.want != "" && !strings.EqualFold(station, c.want) {
		const few = 5
		if len(c.others) < few && !slices.Contains(c.others, station) {
			c.others = append(c.others, station)
		}
		return false
	}
	if c.station != "" && station != c.station {
		c.faults.add(line, "station %q follows station %q: say which of them to read", station, c.station)
		return false
	}
	c.station = station
	return true
}

// add takes a reading, or counts why it is not used.
func (c *collector) add(day civil.Day, value float64, mflag, qflag string) {
	if value == missing {
		return
	}
	if why := doubt(strings.TrimSpace(mflag), strings.TrimSpace(qflag)); why != "" {
		c.dropped[why]++
		return
	}
	c.raw = append(c.raw, reading{day, value})
}

// year checks that a year is one of thermometers.
func year(y int) bool { return y >= 1700 && y <= 2299 }

// done turns the readings into a series, or reports the faults. readErr is
// what ended the reading, nil at the end of the file.
func (c *collector) done(u Unit, readErr error) (*Series, error) {
	if readErr != nil {
		var f *Fault
		if !errors.As(readErr, &f) {
			return nil, fmt.Errorf("reading daily minima: %w", readErr)
		}
		c.faults = append(c.faults, f)
	}
	if len(c.faults) == 0 && len(c.raw) == 0 {
		c.nothing()
	}
	if err := c.faults.err(); err != nil {
		return nil, err
	}
	s := &Series{Station: c.station, Name: c.name, Minima: c.minima(u)}
	if c.mostlyOutOfRange() {
		c.faults.add(0, "%d of %d values in %s are colder or warmer than any night on record: check the unit", c.dropped[dropRange], len(c.raw), u)
		return nil, c.faults
	}
	s.Dropped = dropList(c.dropped)
	return s, nil
}

// mostlyOutOfRange tells a wrong unit from a few slips of the pen: one value
// in a hundred is no slip, and dropping the warm days as doubtful would leave a
// series that is all frost.
func (c *collector) mostlyOutOfRange() bool {
	out := c.dropped[dropRange]
	return out == len(c.raw) || out >= enough && out*100 > len(c.raw)
}

func (c *collector) nothing() {
	switch {
	case c.want != "" && c.station == "" && len(c.others) > 0:
		c.faults.add(0, "station %q is not in the file, which holds %s: choose one of them",
			c.want, strings.Join(c.others, ", "))
	case len(c.dropped) > 0:
		c.faults.add(0, "every daily minimum (TMIN) carries a quality flag: choose another station")
	default:
		c.faults.add(0, "no daily minimum (TMIN) in the file: choose a station that records temperature")
	}
}

// The coldest and warmest values that are believed, in tenths of °C: a little
// beyond the records (from memory, rounded outwards).
const (
	coldest = -900
	warmest = 500
)

// minima converts, sorts and makes the days unique. Of two values for one day
// the colder counts, because the harm is in missing a freeze.
func (c *collector) minima(u Unit) []Minimum {
	ms := make([]Minimum, 0, len(c.raw))
	for _, r := range c.raw {
		t := u.tenths(r.value)
		if t < coldest || t > warmest {
			c.dropped[dropRange]++
			continue
		}
		ms = append(ms, Minimum{r.day, t})
	}
	slices.SortFunc(ms, func(a, b Minimum) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Tenths, b.Tenths))
	})
	all := len(ms)
	ms = slices.CompactFunc(ms, func(a, b Minimum) bool { return a.Day == b.Day })
	if n := all - len(ms); n > 0 {
		c.dropped[dropDuplicate] += n
	}
	return ms
}
