package climate

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/schedule/civil"
)

// Columns of NCEI's annual/seasonal normals: the first fall day at or below a
// threshold in °F by chance in percent, and the share of years in which that
// happens at all.
const (
	firstFall  = "ANN-TMIN-PRBFST-T%02dFP%02d"
	occurrence = "ANN-TMIN-PRBOCC-LSTH%03d"
	anyFall    = "ANN-TMIN-PRBFST-"
)

// publishedF are the thresholds of the normals in °F.
var publishedF = [...]int{16, 20, 24, 28, 32, 36}

// Special values instead of a figure. Only -9999 is from a description of the
// files; the others are from memory of the older readme.
const (
	codeYearRound  = -4444
	codeTooFew     = -6666
	codeRoundsZero = -7777
)

// ReadNormals reads an annual/seasonal climate normals CSV of one station and
// takes its percentiles for the threshold as they are: they are not symmetric and
// are never refitted. The threshold must be one of those published (16, 20,
// 24, 28, 32, 36 °F). The error is [Faults] when the file is wrong, else what the
// reader failed with.
func ReadNormals(r io.Reader, t Threshold, o Options) (*Freeze, error) {
	n := &normals{
		want: strings.TrimSpace(o.Station),
		f:    &Freeze{Threshold: t, Published: true, FreezesInPercent: notKnown},
	}
	if !slices.Contains(publishedF[:], t.fahrenheit()) || Fahrenheit.tenths(float64(t.fahrenheit())) != int(t) {
		n.faults.add(0, "normals are not published for %s: choose one of 16, 20, 24, 28, 32 and 36 °F", t)
		return nil, n.faults
	}
	if err := eachRecord(r, n.record); err != nil {
		var f *Fault
		if !errors.As(err, &f) {
			return nil, fmt.Errorf("reading climate normals: %w", err)
		}
		n.faults = append(n.faults, f)
	}
	if n.header == nil && len(n.faults) == 0 {
		n.faults.add(0, "the file is empty: download it again")
	} else if !n.found && len(n.faults) == 0 {
		n.notFound()
	}
	if err := n.faults.err(); err != nil {
		return nil, err
	}
	return n.f, nil
}

// normals reads the one row that is wanted.
type normals struct {
	want   string
	header map[string]int
	row    []string
	line   int
	found  bool
	f      *Freeze
	faults Faults
}

func hasNormals(header []string) bool {
	return slices.ContainsFunc(header, func(h string) bool { return strings.HasPrefix(columnKey(h), anyFall) })
}

func columnKey(h string) string { return strings.ToUpper(strings.TrimSpace(h)) }

func (n *normals) record(line int, fields []string) bool {
	if n.header == nil {
		n.readHeader(line, fields)
		return len(n.faults) == 0
	}
	station := strings.TrimSpace(field(fields, n.header["STATION"]))
	if n.want != "" && !strings.EqualFold(station, n.want) {
		return true
	}
	if n.found {
		n.faults.add(line, "a second row, of station %q: say which station to read, or give the file of one station", station)
		return false
	}
	n.found, n.line, n.row = true, line, fields
	n.f.Station, n.f.Name = station, n.text("NAME")
	n.readShare()
	n.readPercentiles()
	n.checkOrder()
	return !n.faults.full()
}

func (n *normals) readHeader(line int, fields []string) {
	n.header = make(map[string]int, len(fields))
	for i, h := range fields {
		n.header[columnKey(h)] = i
	}
	if _, ok := n.header["STATION"]; !ok {
		n.faults.add(line, `no column "STATION": give the annual/seasonal normals of one station as CSV`)
	}
	if !hasNormals(fields) {
		n.faults.add(line, `no columns %q: give the annual/seasonal normals, not the daily or monthly ones`, anyFall+"…")
	}
}

func (n *normals) notFound() {
	if n.want == "" {
		n.faults.add(0, "a header and no station: download the file again")
		return
	}
	n.faults.add(0, "station %q is not in the file: give the file of that station", n.want)
}

// text returns the trimmed field of a column, "" if there is none.
func (n *normals) text(name string) string {
	at, ok := n.header[name]
	if !ok {
		return ""
	}
	return strings.TrimSpace(field(n.row, at))
}

func (n *normals) readShare() {
	name := fmt.Sprintf(occurrence, n.f.Threshold.fahrenheit())
	text := n.text(name)
	if text == "" {
		return
	}
	v, ok := parseNumber(text)
	switch {
	case ok && v == codeRoundsZero:
		n.f.FreezesInPercent = 0
	case ok && v >= 0 && v <= 100:
		n.f.FreezesInPercent = v
	case !ok || v > 0 || v > codeYearRound:
		n.faults.add(n.line, "%s %q: want percent of years, or -9999 for none", name, text)
	}
}

func (n *normals) readPercentiles() {
	reasons := map[string]bool{}
	for p := 10; p <= 90; p += 10 {
		name := fmt.Sprintf(firstFall, n.f.Threshold.fahrenheit(), p)
		text := n.text(name)
		if why, none := noDate(text); none {
			reasons[why] = true
			continue
		}
		day, ok := parseNormalDay(text)
		if !ok {
			n.faults.add(n.line, "%s %q: want MM/DD, or -9999 for none", name, text)
			continue
		}
		n.f.Percentiles = append(n.f.Percentiles, Percentile{p, day})
	}
	delete(reasons, "")
	for _, why := range []string{whyYearRound, whyTooFew} {
		if reasons[why] {
			n.f.Notes = append(n.f.Notes, why)
		}
	}
}

const (
	whyYearRound = "By the published table it may freeze here in any month of the year."
	whyTooFew    = "By the published table a freeze here is too rare for some of its days to be worked out."
)

// noDate tells the special values from a date and says what they mean.
func noDate(text string) (why string, none bool) {
	if text == "" {
		return "", true
	}
	code, err := strconv.Atoi(text)
	switch {
	case err != nil || code >= 0:
		return "", false
	case code == codeYearRound:
		return whyYearRound, true
	case code == codeTooFew:
		return whyTooFew, true
	}
	return "", true
}

// parseNormalDay reads "10/11", whose parts may be padded with spaces.
func parseNormalDay(text string) (civil.MonthDay, bool) {
	m, d, ok := strings.Cut(text, "/")
	m, d = strings.TrimSpace(m), strings.TrimSpace(d)
	if !ok || !digits(m) || !digits(d) || len(m) > 2 || len(d) > 2 {
		return civil.MonthDay{}, false
	}
	md, err := civil.ParseMonthDay(fmt.Sprintf("%02s-%02s", m, d))
	return md, err == nil
}

// checkOrder remarks on days that do not follow each other. The figures stay as
// published; a person should look.
func (n *normals) checkOrder() {
	sorted := slices.IsSortedFunc(n.f.Percentiles, func(a, b Percentile) int { return inSeason(a.Day, b.Day) })
	if !sorted {
		n.f.Notes = append(n.f.Notes, "The published days do not follow each other in order: look at the table before using it.")
	}
}
