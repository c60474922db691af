package columns

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/match"
)

// Shop is what rows are checked against, and what hears about them.
type Shop struct {
	Today    civil.Day // by the shop's clock
	Services []string  // codes that rules know; none takes any
	Places   []string  // names of places; none takes any
	// Merged are ids that are merged away, as "boat_id B2", and into which.
	Merged map[string]string
	// Fault and Note take what is wrong and what should be looked at.
	Fault, Note func(file string, line int, field, what string)
}

// Line is where a row stands.
type Line struct {
	Shop *Shop
	File string
	No   int  // as the front end that read it numbers its rows
	Bad  bool // a fault was found
}

// Fault says what is wrong with a field of the row, "" for the row as a whole, and
// what to do.
func (l *Line) Fault(field, format string, args ...any) {
	l.Bad = true
	l.Shop.Fault(l.File, l.No, field, fmt.Sprintf(format, args...))
}

// Note says what should be looked at.
func (l *Line) Note(field, format string, args ...any) {
	l.Shop.Note(l.File, l.No, field, fmt.Sprintf(format, args...))
}

// word checks s, which may be empty, against a list.
func (l *Line) word(column, s string, list []string) {
	if s != "" && !slices.Contains(list, s) {
		l.Fault(column, "unknown word %q; %s", s, cmp.Or(DidYouMean(s, list), "want one of "+strings.Join(list, ", ")))
	}
}

// Tidy returns a cell without blanks around it, control characters as blanks and
// line ends as LF.
func (l *Line) Tidy(column, s string) string {
	s = strings.TrimSpace(s)
	if !utf8.ValidString(s) {
		l.Fault(column, "%q is not UTF-8; save the file as \"CSV UTF-8\"", s)
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

// DidYouMean asks whether the word of the list that is nearest to s was meant; "" if
// none is near.
func DidYouMean(s string, list []string) string {
	best, at := "", max(1, len(s)/3)+1
	for _, w := range list {
		if d := match.EditDistance(s, w, at); d < at {
			best, at = w, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("did you mean %q?", best)
}
