// Package hin reads hull identification numbers. It decides which of the three
// United States formats a number has, what model year and month it states, and
// what about it is odd. It never refuses a number: imported, home-built and old
// boats have others or none, and a number is kept as it was written down. The
// intake of files and the desk's pages call it. A leaf: plain text and years.
//
// The formats, with their sources:
//
//   - current, on boats built from 1 August 1984 on: 33 CFR 181.25. Twelve
//     characters: maker's code (1-3), serial number (4-8, without the letters I,
//     O and Q), month of certification or building A to L (9), last digit of
//     that year (10), last two digits of the model year (11-12).
//   - straight year, November 1972 to July 1984: month 01 to 12 (9-10) and year
//     (11-12). As restated by boating magazines and owners' clubs; the text of
//     the rule of 1972 was not seen.
//   - model year, the same years: the letter M (9), model year (10-11), month (12),
//     where A is August and L is July, so that A to E lie in the calendar year
//     before the model year. Restated as above; that last point is our arithmetic.
//
// A country's two letters with a hyphen ("US-") may stand before the twelve and
// are no part of them (Coast Guard, HIN Validation Guidelines, June 2018, as
// quoted).
package hin

import (
	"strings"
	"time"
)

// Format is the way in which a number states its date.
type Format int

// The formats. Other is every number that follows none of the three.
const (
	Other Format = iota
	Current
	StraightYear
	ModelYear
)

// String names the format in words for a person.
func (f Format) String() string {
	return [...]string{"no United States format", "current format", "straight-year format", "model-year format"}[f]
}

// Number is what a hull identification number says.
type Number struct {
	Text   string // capitals and digits, without blanks, hyphens and country
	Format Format
	Maker  string // the maker's code, "" unless the format is known
	Serial string // as stamped, "" unless the format is known
	// ModelYear in four digits. The straight-year format states none; it is 0
	// there and for Other.
	ModelYear int
	// Built is the year, in four digits, and Month the month of certification or
	// building; 0 for Other. It is a guess at when a warranty began, no more: the
	// day of delivery governs that.
	Built int
	Month time.Month
}

// length of a number, and where its parts begin, counted from 0.
const (
	length   = 12
	serialAt = 3
	dateAt   = 8
)

// Plain takes off what may be written round a number: blanks, hyphens, a
// country's letters before a hyphen, and the case of letters.
func Plain(s string) string {
	s = strings.ToUpper(strings.Join(strings.Fields(s), ""))
	if len(s) > 3 && s[2] == '-' && isLetter(s[0]) && isLetter(s[1]) {
		if rest := strings.ReplaceAll(s[3:], "-", ""); len(rest) == length || s[:2] == "US" {
			return rest
		}
	}
	return strings.ReplaceAll(s, "-", "")
}

// Decode reads a number. Years of two digits lie between 1972, when numbers
// began, and 2071.
func Decode(s string) Number {
	n := Number{Text: Plain(s)}
	if len(n.Text) != length || !allAlphanumeric(n.Text) {
		return n
	}
	date := n.Text[dateAt:]
	switch {
	case date[0] == 'M' && digits(date[1:3]) && within(date[3], 'A', 'L'):
		n.modelYear(date)
	case digits(date) && date[:2] >= "01" && date[:2] <= "12":
		n.Format, n.Month, n.Built = StraightYear, time.Month(number(date[:2])), century(number(date[2:]))
	case within(date[0], 'A', 'L') && digits(date[1:]):
		n.current(date)
	default:
		return n
	}
	n.Maker, n.Serial = n.Text[:serialAt], n.Text[serialAt:dateAt]
	return n
}

// Identity is the number by which a hull is known again: as [Plain] writes it if
// it can be read as a number of any era, else "". What people write where no
// number is at hand ("TBD", "unknown", "0") stands on many boats, and so may a
// number that was copied wrong: neither says that two boats are one hull. The two
// early formats ended in July 1984, and a maker's code is not of digits alone.
func Identity(s string) string {
	n := Decode(s)
	if n.Format == Other || n.Format != Current && n.late() || digits(n.Maker) {
		return ""
	}
	return n.Text
}

// Written is how a number is kept: as [Plain] writes it if it is one, else as it
// was typed, without the blanks around it.
func Written(s string) string {
	if id := Identity(s); id != "" {
		return id
	}
	return strings.TrimSpace(s)
}

// late reports whether the number states a date after July 1984.
func (n Number) late() bool { return n.Built > 1984 || n.Built == 1984 && n.Month > time.July }

// modelYear reads "M73E": the model's months run from August to July.
func (n *Number) modelYear(date string) {
	n.Format, n.ModelYear = ModelYear, century(number(date[1:3]))
	months := int(date[3] - 'A')
	n.Built, n.Month = n.ModelYear-1, time.August+time.Month(months)
	if n.Month > time.December {
		n.Built, n.Month = n.ModelYear, n.Month-12
	}
}

// current reads "L495". One digit of the building year is stated; of the years
// that end in it the one nearest to the model year is meant.
func (n *Number) current(date string) {
	n.Format, n.Month = Current, time.January+time.Month(date[0]-'A')
	n.ModelYear = century(number(date[2:]))
	digit := number(date[1:2])
	n.Built = n.ModelYear - ((n.ModelYear-digit)%10+10)%10
	if n.ModelYear-n.Built > 5 {
		n.Built += 10
	}
}

// century completes a year of two digits.
func century(yy int) int {
	if yy >= 72 {
		return 1900 + yy
	}
	return 2000 + yy
}

func number(s string) int {
	n := 0
	for i := range len(s) {
		n = n*10 + int(s[i]-'0')
	}
	return n
}

func digits(s string) bool {
	return strings.Trim(s, "0123456789") == ""
}

func within(c, low, high byte) bool { return c >= low && c <= high }

func isLetter(c byte) bool { return within(c, 'A', 'Z') }

func allAlphanumeric(s string) bool {
	for i := range len(s) {
		if !isLetter(s[i]) && !within(s[i], '0', '9') {
			return false
		}
	}
	return true
}
