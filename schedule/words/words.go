// Package words writes days, amounts, counts and first letters, once for pages,
// emails, calendars, print and commands. Plain values go in, text comes out; how a
// shop writes is a [Format], made once from its settings. A newcomer may add a
// format here; whoever needs one looks here first.
package words

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

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
// blanks and line ends become single spaces, no-break spaces stay, broken UTF-8 shows as U+FFFD.
func OneLine(s string) string {
	blank := func(r rune) bool { return unicode.IsSpace(r) && r != '\u00a0' }
	return strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, "\uFFFD"), blank), " ")
}

// Decimals writes a number with the digits that it needs: "2", "3.5".
func Decimals(q float64) string { return strconv.FormatFloat(q, 'f', -1, 64) }

// Harmless keeps a spreadsheet program from running a customer's text: the
// signs that begin a formula, and the white space that hides one (OWASP, "CSV
// Injection"; from memory).
func Harmless(s string) string {
	s = cutElsewhere.ReplaceAllString(s, "${1}'${2}")
	if s != "" && strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return "'" + s
	}
	return s
}

// cutElsewhere is the beginning of a formula where other programs begin a cell.
var cutElsewhere = regexp.MustCompile(`([;\t\r\n] *"*)([=+@-])`)
