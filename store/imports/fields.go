package imports

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// line is one line of a file. Its methods read fields by the name of the
// column and report what is wrong with them.
type line struct {
	*table
	no  int
	Row []string
	bad bool // a fault was found
}

func (l *line) fault(field, format string, args ...any) {
	l.bad = true
	l.in.report.fault(l.name, l.no, field, fmt.Sprintf(format, args...))
}

func (l *line) note(field, format string, args ...any) {
	l.in.report.note(l.name, l.no, field, fmt.Sprintf(format, args...))
}

// text returns a field without blanks around it, control characters as blanks
// and line ends as LF; "" if the file has no such column.
func (l *line) text(col string) string {
	i, ok := l.at[col]
	if !ok {
		return ""
	}
	s := strings.TrimSpace(l.Row[i])
	if !utf8.ValidString(s) {
		l.fault(col, "%q is not UTF-8; save the file as \"CSV UTF-8\"", s)
		return ""
	}
	if strings.IndexFunc(s, unicode.IsControl) < 0 {
		return s
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return ' '
		}
		return r
	}, s)
}

// id returns an id; an empty one is a fault.
func (l *line) id(col string) string {
	s := l.text(col)
	if s == "" && !l.bad {
		l.fault(col, "empty; every line needs one")
	}
	return l.checkID(col, s)
}

// optionalID returns an id that may be empty.
func (l *line) optionalID(col string) string { return l.checkID(col, l.text(col)) }

func (l *line) checkID(col, s string) string {
	if err := tables.CheckID(s); err != nil {
		l.fault(col, "%v", err)
	}
	if len(l.in.merged) == 0 {
		return s
	}
	if kept, ok := l.in.merged[col+" "+s]; ok {
		return kept
	}
	return s
}

// word returns a field that must be one of a list.
func (l *line) word(col string, list []string) string {
	s := l.text(col)
	if s == "" {
		l.fault(col, "empty; want one of %s", strings.Join(list, ", "))
		return ""
	}
	return l.optionalWord(col, s, list)
}

// optionalWord checks s, which may be empty, against a list.
func (l *line) optionalWord(col, s string, list []string) string {
	if s != "" && !slices.Contains(list, s) {
		l.fault(col, "unknown word %q; %s", s, didYouMean(s, list, "want one of "+strings.Join(list, ", ")))
	}
	return s
}

// day returns a day, none if the field is empty.
func (l *line) day(col string) civil.Day {
	s := l.text(col)
	if s == "" {
		return 0
	}
	d, err := civil.Parse(s)
	if err != nil {
		l.fault(col, "%v", err)
	}
	return d
}

// pastDay returns a day that has been by the shop's clock; a day ahead is a slip
// of the pen.
func (l *line) pastDay(col string) civil.Day {
	d := l.day(col)
	if d > l.in.today {
		l.fault(col, "%s is still to come; want a day that has been", d)
	}
	return d
}

// stamp returns the day of a date of manufacture, which may be only a year or
// a month.
func (l *line) stamp(col string) civil.Day {
	s := l.text(col)
	switch len(s) {
	case 0:
		return 0
	case len("2006"):
		s += "-01-01"
	case len("2006-01"):
		s += "-01"
	}
	d, err := civil.Parse(s)
	if err != nil {
		l.fault(col, "%q: want YYYY, YYYY-MM or YYYY-MM-DD", l.text(col))
	}
	return d
}

// hours returns meter hours and whether there are any.
func (l *line) hours(col string) (schedule.Hours, bool) {
	s := l.text(col)
	if s == "" {
		return 0, false
	}
	h, err := measure.ParseHours(s)
	if err != nil {
		l.fault(col, "%v", err)
	}
	return h, err == nil
}

// cents returns an amount of money, 0 if the field is empty.
func (l *line) cents(col string) schedule.Cents {
	s := l.text(col)
	if s == "" {
		return 0
	}
	c, err := measure.ParseCents(s)
	if err != nil {
		l.fault(col, "%v", err)
	}
	return c
}

// whole returns a whole number within bounds, none if the field is empty.
func (l *line) whole(col string, none, low, high int) int {
	s := l.text(col)
	if s == "" {
		return none
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < low || n > high {
		l.fault(col, "%q: want a whole number from %d to %d", s, low, high)
	}
	return n
}

// feet returns a length, 0 if the field is empty.
func (l *line) feet(col string) float64 {
	s := l.text(col)
	if s == "" {
		return 0
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || !(f >= 0 && f < 1000) {
		l.fault(col, "%q: want a length in feet, for example 21.5", s)
		return 0
	}
	return f
}

// yes returns a yes-or-no field; empty is no.
func (l *line) yes(col string) bool {
	switch s := strings.ToLower(l.text(col)); s {
	case "", "0", "no", "false":
		return false
	case "1", "yes", "true":
		return true
	default:
		l.fault(col, "%q: want yes or no", s)
		return false
	}
}

// didYouMean asks whether the word of the list that is nearest to s was meant;
// if none is near, it says otherwise.
func didYouMean(s string, list []string, otherwise string) string {
	best, at := "", max(1, len(s)/3)+1
	for _, w := range list {
		if d := match.EditDistance(s, w, at); d < at {
			best, at = w, d
		}
	}
	if best == "" {
		return otherwise
	}
	return fmt.Sprintf("did you mean %q?", best)
}
