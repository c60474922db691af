package climate

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"bellbuoy/schedule/civil"
)

// Columns of a .dly record, counted from 0: identifier 0-10, year 11-14, month
// 15-16, element 17-20, then 31 times value (5), MFLAG, QFLAG, SFLAG. Source:
// the GHCN-Daily readme.
const (
	dlyHead   = 21
	dlyDay    = 8
	dlyLength = dlyHead + 31*dlyDay // 269
)

// element is the only one that matters here.
const element = "TMIN"

// ReadDly reads a GHCN-Daily .dly file. Its values are tenths of °C. The error
// is [Faults] when the file is wrong, else what the reader failed with.
func ReadDly(r io.Reader, o Options) (*Series, error) {
	c := newCollector(o)
	c.tenthsOnly(FormatDly, o)
	b, err := start(r)
	if err != nil {
		return c.done(TenthsC, err)
	}
	sc := bufio.NewScanner(b)
	sc.Buffer(nil, maxLine+2)
	for n := 1; !c.faults.full() && sc.Scan(); n++ {
		c.dlyLine(n, strings.TrimRight(sc.Text(), " \r"))
	}
	return c.done(TenthsC, sc.Err())
}

// tenthsOnly refuses a unit that contradicts the definition of the format.
func (c *collector) tenthsOnly(f Format, o Options) {
	if o.Unit != UnitUnknown && o.Unit != TenthsC {
		c.faults.add(0, "a %s file is in tenths of °C by definition: leave out the unit %s", f, o.Unit)
	}
}

func (c *collector) dlyLine(n int, line string) {
	if line == "" {
		return
	}
	if len(line) < dlyHead {
		c.faults.add(n, "record %s has %d columns, want %d: download the file again", quoteStart(line), len(line), dlyLength)
		return
	}
	if line[17:21] != element || !c.belongs(n, line[:11]) {
		return
	}
	// Editors strip trailing blanks, and the last columns are blank flags.
	if len(line) < dlyLength-3 || len(line) > dlyLength {
		c.faults.add(n, "record %s has %d columns, want %d: download the file again", quoteStart(line), len(line), dlyLength)
		return
	}
	line += "   "
	y, err1 := strconv.Atoi(line[11:15])
	m, err2 := strconv.Atoi(line[15:17])
	if err1 != nil || err2 != nil || !year(y) || m < 1 || m > 12 {
		c.faults.add(n, "year and month %q: want YYYYMM in columns 12 to 17", line[11:17])
		return
	}
	c.dlyDays(n, y, time.Month(m), line[dlyHead:])
}

func (c *collector) dlyDays(n, y int, m time.Month, days string) {
	first := civil.Of(y, m, 1)
	length := int(first.AddMonths(1) - first)
	for i := range 31 {
		cell := days[i*dlyDay : (i+1)*dlyDay]
		text := strings.TrimSpace(cell[:5])
		v, err := strconv.Atoi(text)
		switch {
		case err != nil:
			c.faults.add(n, "value %q of day %d: want tenths of °C, or -9999 for none", text, i+1)
			return
		case i >= length && v != missing:
			c.faults.add(n, "value %d for day %d of %s %d, a day that does not exist: download the file again", v, i+1, m, y)
			return
		}
		c.add(first+civil.Day(i), float64(v), cell[5:6], cell[6:7])
	}
}

// ReadByStation reads GHCN-Daily's by-station CSV: identifier, YYYYMMDD,
// element, value in tenths of °C, MFLAG, QFLAG, SFLAG, time of observation; with
// or without a header. The error is [Faults] when the file is wrong, else what
// the reader failed with.
func ReadByStation(r io.Reader, o Options) (*Series, error) {
	c := newCollector(o)
	c.tenthsOnly(FormatByStation, o)
	err := eachRecord(r, func(n int, fields []string) bool {
		if n > 1 || !isByStationHeader(fields) {
			c.byStationLine(n, fields)
		}
		return !c.faults.full()
	})
	return c.done(TenthsC, err)
}

func isByStationHeader(fields []string) bool {
	return len(fields) >= 7 && strings.EqualFold(fields[0], "ID") && strings.EqualFold(fields[2], "ELEMENT")
}

func (c *collector) byStationLine(n int, fields []string) {
	if len(fields) < 7 || len(fields) > 8 {
		c.faults.add(n, "%d fields, want 7 or 8 (station, YYYYMMDD, element, value, three flags, time)", len(fields))
		return
	}
	if fields[2] != element || !c.belongs(n, fields[0]) {
		return
	}
	t, err := time.Parse("20060102", fields[1])
	if err != nil || !year(t.Year()) {
		c.faults.add(n, "day %q: want YYYYMMDD", fields[1])
		return
	}
	v, err := strconv.Atoi(strings.TrimSpace(fields[3]))
	if err != nil {
		c.faults.add(n, "value %q: want tenths of °C, or -9999 for none", fields[3])
		return
	}
	c.add(civil.FromTime(t), float64(v), fields[4], fields[5])
}

// eachRecord calls f for the records of a CSV body with their lines until f
// has had enough. The fields are only good during the call.
func eachRecord(r io.Reader, f func(line int, fields []string) bool) error {
	b, err := start(r)
	if err != nil {
		return err
	}
	cr := csv.NewReader(b)
	cr.FieldsPerRecord, cr.ReuseRecord = -1, true
	for {
		fields, err := cr.Read()
		if err == io.EOF {
			return nil
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			return &Fault{pe.Line, fmt.Sprintf("quotation marks that do not pair (%v): save the file as CSV again", pe.Err)}
		}
		if err != nil {
			return err
		}
		if line, _ := cr.FieldPos(0); !f(line, fields) {
			return nil
		}
	}
}
