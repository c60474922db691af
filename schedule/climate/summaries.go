package climate

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"bellbuoy/schedule/civil"
)

// ReadSummaries reads a daily summaries CSV: a header, then one day a line with
// a column of minima and, if it has one, their attributes ("M,Q,S" in one
// field; packing from memory). The unit is the option's, else the header's,
// else the one that the values prove, which is then noted. The error is
// [Faults] when the file is wrong, else what the reader failed with.
func ReadSummaries(r io.Reader, o Options) (*Series, error) {
	s := &summaries{collector: newCollector(o)}
	err := eachRecord(r, func(n int, fields []string) bool {
		if s.columns == nil {
			s.columns = findColumns(fields, o.Columns.orDefault())
			return s.checkHeader(n, o)
		}
		s.line(n, fields)
		return !s.faults.full()
	})
	unit, note := s.settleUnit(o)
	series, err := s.done(unit, err)
	if err != nil {
		return nil, err
	}
	if note != "" {
		series.Notes = append(series.Notes, note)
	}
	return series, nil
}

type summaries struct {
	*collector
	columns *columns
}

// columns are the places of the columns that matter, -1 for those not there.
type columns struct {
	station, name, date, latitude, tmin, attributes int
	names                                           Columns
	unit                                            Unit
}

func findColumns(header []string, names Columns) *columns {
	at := func(name string) int {
		i, _, _ := findColumn(header, name)
		return i
	}
	c := &columns{
		station: at(names.Station), name: at("NAME"), date: at(names.Date), latitude: at("LATITUDE"),
		tmin: at(names.TMin), attributes: at(names.TMin + "_ATTRIBUTES"), names: names,
	}
	if _, suffix, ok := findColumn(header, names.TMin); ok {
		c.unit = headerUnit(suffix)
	}
	return c
}

// otherNames are what weather services also call the columns, letters only; from
// memory.
var otherNames = map[string][]string{
	"DATE": {"DAY", "DATETIME", "OBSERVATIONDATE", "YYYYMMDD", "TIME"},
	"TMIN": {"MINTEMP", "TEMPMIN", "MINIMUMTEMPERATURE", "MINTEMPERATURE", "TEMPERATUREMIN", "LOW", "MINIMUM", "TN", "TNN"},
}

// findColumn looks for a column by name, in any case, else by one that other
// services have for it. It returns what stands behind the name in parentheses:
// "TMIN (Celsius)" is the column TMIN.
func findColumn(header []string, name string) (at int, suffix string, ok bool) {
	for _, name := range append([]string{name}, otherNames[name]...) {
		for i, h := range header {
			base, rest, _ := strings.Cut(h, "(")
			if letters(base) == letters(name) {
				return i, rest, true
			}
		}
	}
	return -1, "", false
}

// letters are a text's letters and digits, as capitals.
func letters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToUpper(r)
		}
		return -1
	}, s)
}

// parseDay reads a day as year, month and day, padded or not, with signs between
// them or without; a time of day behind it is passed over.
func parseDay(s string) (civil.Day, error) {
	s, _, _ = strings.Cut(strings.TrimSpace(s), "T")
	s, _, _ = strings.Cut(s, " ")
	for _, form := range []string{"2006-1-2", "20060102", "2006/1/2", "2006.1.2"} {
		if t, err := time.Parse(form, s); err == nil {
			return civil.FromTime(t), nil
		}
	}
	return 0, fmt.Errorf("%q is no day", s)
}

func (s *summaries) checkHeader(n int, o Options) bool {
	c := s.columns
	for _, want := range []struct {
		at   int
		name string
	}{{c.date, c.names.Date}, {c.tmin, c.names.TMin}} {
		if want.at < 0 {
			s.faults.add(n, "no column %q: ask for daily summaries with minimum temperature (TMIN), or name the column", want.name)
		}
	}
	if o.Station != "" && c.station < 0 {
		s.faults.add(n, "no column %q to find station %q in: name the column, or leave out the station", c.names.Station, o.Station)
	}
	if o.Unit != UnitUnknown && c.unit != UnitUnknown && o.Unit != c.unit {
		s.faults.add(n, "the header says that %s is in %s, not in %s: leave out the unit", c.names.TMin, c.unit, o.Unit)
	}
	return len(s.faults) == 0
}

func (s *summaries) line(n int, fields []string) {
	c := s.columns
	if len(fields) <= max(c.date, c.tmin) {
		s.faults.add(n, "%d fields, fewer than the header promises: download the file again", len(fields))
		return
	}
	if !s.belongs(n, field(fields, c.station)) {
		return
	}
	day, err := parseDay(fields[c.date])
	if err != nil || !year(day.Year()) {
		s.faults.add(n, "%s %q: want YYYY-MM-DD", c.names.Date, fields[c.date])
		return
	}
	if strings.HasPrefix(strings.TrimSpace(field(fields, c.latitude)), "-") {
		s.faults.add(n, "latitude %q lies south of the equator, where autumn does not begin in August: set the winterization deadline by hand", fields[c.latitude])
		return
	}
	s.name = strings.TrimSpace(field(fields, c.name))
	text := strings.TrimSpace(fields[c.tmin])
	if text == "" {
		return
	}
	v, ok := parseNumber(text)
	if !ok {
		s.faults.add(n, "%s %q: want a number, or nothing", c.names.TMin, text)
		return
	}
	flags := strings.Split(field(fields, c.attributes), ",")
	s.add(day, v, flags[0], field(flags, 1))
}

// field returns a field that the header or the line may not have.
func field(fields []string, at int) string {
	if at < 0 || at >= len(fields) {
		return ""
	}
	return fields[at]
}

// settleUnit decides the unit and says how, if it was not told.
func (s *summaries) settleUnit(o Options) (Unit, string) {
	e := weigh(s.raw)
	switch {
	case len(s.raw) == 0 || len(s.faults) > 0:
		return UnitUnknown, ""
	case o.Unit == TenthsC && e.fractions > 0:
		s.faults.add(0, "%d of %d minima have decimals, so they are not in tenths of °C: say °C or °F", e.fractions, e.values)
		return UnitUnknown, ""
	case o.Unit != UnitUnknown:
		return o.Unit, ""
	case s.columns.unit != UnitUnknown:
		return s.columns.unit, fmt.Sprintf("The header says that the minima are in %s.", s.columns.unit)
	}
	unit, why := e.unit()
	if unit == UnitUnknown {
		s.faults.add(0, "the unit of the minima (%g to %g) cannot be told for certain: say whether they are tenths of °C, °C or °F", e.low, e.high)
		return unit, ""
	}
	return unit, fmt.Sprintf("The minima (%g to %g) were taken to be in %s: %s.", e.low, e.high, unit, why)
}
