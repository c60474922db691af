// Package match makes texts comparable: names without case and marks, telephone
// numbers, registrations, words that are nearly the same. Plain text in, plain
// text out; it may import hin. A newcomer may add letters to [Fold]; the search
// columns that are on file keep the old folding until their rows are written
// again.
package match

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"bellbuoy/schedule/hin"
)

// Fold makes texts comparable for a search: small letters without marks.
func Fold(s string) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(s)) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case r == 'ø':
			b.WriteByte('o')
		case r == 'ł':
			b.WriteByte('l')
		case r == 'đ' || r == 'ð':
			b.WriteByte('d')
		case r == 'ß':
			b.WriteString("ss")
		case r == 'æ':
			b.WriteString("ae")
		case r == 'ı':
			b.WriteByte('i')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// Name is a name's words in rising order, without marks, case and repeated blanks:
// "Quillfeather,  Jørn" is "Jørn Quillfeather".
func Name(s string) string {
	words := strings.FieldsFunc(Fold(s), func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",.&-", r) })
	slices.Sort(words)
	return strings.Join(words, " ")
}

// Letters keeps letters and digits, without marks and case: "Pike-16" is "Pike 16".
func Letters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, Fold(s))
}

// Street makes addresses comparable: without marks, case and points, and with the
// usual words for ways in their short forms.
func Street(s string) string {
	words := strings.FieldsFunc(Fold(s), func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",.#", r) })
	for i, w := range words {
		for _, long := range [][2]string{{"street", "st"}, {"road", "rd"}, {"avenue", "ave"}, {"drive", "dr"}, {"lane", "ln"}, {"court", "ct"},
			{"boulevard", "blvd"}, {"highway", "hwy"}, {"place", "pl"}, {"north", "n"}, {"south", "s"}, {"east", "e"}, {"west", "w"}} {
			if w == long[0] {
				words[i] = long[1]
			}
		}
	}
	return strings.Join(words, " ")
}

// Digits keeps the digits of a telephone number.
func Digits(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

// EscapeLike makes a text stand for itself in a LIKE pattern.
func EscapeLike(s string) string {
	return strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(s)
}

// PhoneKey is what tells telephone numbers apart, with and without the code of
// a country: the last ten digits.
func PhoneKey(s string) string {
	first, _, _ := strings.Cut(s, "/")
	digits := Digits(first)
	return digits[max(0, len(digits)-10):]
}

// LocalNumbers are the last seven digits of each telephone number in a text, by
// which people who bear one name are told apart; what is shorter is none.
func LocalNumbers(s string) (all []string) {
	for _, one := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("/;|\n", r) }) {
		if d := Digits(one); len(d) >= 7 {
			all = append(all, d[len(d)-7:])
		}
	}
	return all
}

// PlainRegistration keeps what tells registrations apart: nothing of one without
// a figure, such as "TBD" or "0", which any boat may have.
func PlainRegistration(s string) string {
	if !strings.ContainsAny(s, "123456789") {
		return ""
	}
	return hin.Plain(s)
}

// EditDistance counts the letters to insert, delete or change to turn a into b
// (Levenshtein), and gives up at limit.
func EditDistance(a, b string, limit int) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) >= limit || len(y)-len(x) >= limit {
		return limit
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := diagonal
			if x[i] != y[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return min(row[len(y)], limit)
}

// OneLetterApart reports whether two words differ by one letter: another one, one
// missing, one too many, or two neighbors that changed places.
func OneLetterApart(a, b string) bool {
	x, y := []rune(a), []rune(b)
	for len(x) > 0 && len(y) > 0 && x[0] == y[0] {
		x, y = x[1:], y[1:]
	}
	for len(x) > 0 && len(y) > 0 && x[len(x)-1] == y[len(y)-1] {
		x, y = x[:len(x)-1], y[:len(y)-1]
	}
	swapped := len(x) == 2 && len(y) == 2 && x[0] == y[1] && x[1] == y[0]
	return swapped || len(x) <= 1 && len(y) <= 1 && len(x)+len(y) > 0
}
