// Package words writes amounts, counts and first letters, once for pages,
// emails, calendars, print and commands. Plain values go in, text comes out; it
// imports only measure and knows no shop: a currency sign is an argument. A
// newcomer may add a format here; whoever needs one looks here first.
package words

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/dustin/go-humanize"

	"bellbuoy/schedule/measure"
)

// Money writes an amount to the cent with its thousands set apart: "$1,234.50",
// "-$20.00", "CHF 1,234.50".
func Money(sign string, c measure.Cents) string {
	minus, c := split(c)
	cents := strconv.FormatInt(int64(c%100)+100, 10)[1:]
	return minus + before(sign) + humanize.Comma(int64(c/100)) + "." + cents
}

// WholeMoney writes an amount in whole units, halves up: "$1,235". An estimate
// is written so: it has no cents.
func WholeMoney(sign string, c measure.Cents) string {
	minus, c := split(c)
	units := int64(c+50) / 100
	if units == 0 {
		minus = ""
	}
	return minus + before(sign) + humanize.Comma(units)
}

func split(c measure.Cents) (minus string, amount measure.Cents) {
	if c < 0 {
		return "-", -c
	}
	return "", c
}

// before is a currency sign in front of its amount: one of several letters is
// set apart from the digits.
func before(sign string) string {
	if last, _ := utf8.DecodeLastRuneInString(sign); unicode.IsLetter(last) && utf8.RuneCountInString(sign) > 1 {
		return sign + " "
	}
	return sign
}

// Count writes a number of things: "1 visit", "3 visits", "2 entries", "2 days",
// "2 batches". For what has another plural there is [Plural].
func Count(n int, thing string) string {
	many := thing + "s"
	switch stem, y := strings.CutSuffix(thing, "y"); {
	case y && stem != "" && !strings.ContainsRune("aeiou", rune(stem[len(stem)-1])):
		many = stem + "ies"
	case strings.HasSuffix(thing, "s"), strings.HasSuffix(thing, "x"), strings.HasSuffix(thing, "ch"), strings.HasSuffix(thing, "sh"):
		many = thing + "es"
	}
	return Plural(n, thing, many)
}

// Plural writes a number with the word that fits it: "1 week is", "2 weeks are".
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// LowerFirst fits a title into a sentence: "Engine oil" becomes "engine oil". A
// word in capitals, "CO alarm", stays.
func LowerFirst(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if second, _ := utf8.DecodeRuneInString(s[n:]); n == 0 || first == utf8.RuneError || unicode.IsUpper(second) {
		return s
	}
	return string(unicode.ToLower(first)) + s[n:]
}

// UpperFirst begins a sentence: "engine oil" becomes "Engine oil".
func UpperFirst(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 || first == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// OneLine puts a text from outside on one line, for a header, a log or a table:
// blanks and line ends become single spaces, broken UTF-8 shows as U+FFFD.
func OneLine(s string) string {
	return strings.Join(strings.Fields(strings.ToValidUTF8(s, "\uFFFD")), " ")
}
