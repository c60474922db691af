package hin

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Remarks says what is odd about a number, in sentences without a full stop;
// none for an empty number or one that is in order. A remark is a reason to
// look at the hull again, never to refuse the boat.
func Remarks(s string) []string {
	n := Decode(s)
	switch {
	case n.Text == "":
		return nil
	case n.Format == Other:
		return n.unread()
	}
	var all []string
	if odd := n.lookAlikes(); odd != "" {
		all = append(all, odd)
	}
	return append(all, n.oddDates()...)
}

// Compare says whether the model year that somebody wrote down fits the number;
// "" if it does or either is unknown.
func Compare(s string, year int) string {
	n := Decode(s)
	switch {
	case year == 0 || n.Format == Other:
		return ""
	case n.ModelYear != 0 && n.ModelYear != year:
		return fmt.Sprintf("%s says model year %d, the boat is down as %d", n.Text, n.ModelYear, year)
	case n.ModelYear == 0 && (year < n.Built || year > n.Built+1):
		return fmt.Sprintf("%s was built in %s %d, the boat is down as %d", n.Text, n.Month, n.Built, year)
	}
	return ""
}

// LookAlike writes letters and digits that are mistaken for each other alike,
// so that two readings of the same plate can be found: I as 1, O and Q as 0, B
// as 8, S as 5, Z as 2. Only I/1, B/8 and O/0 are named by the trade; the rest
// is common practice, no source.
func LookAlike(s string) string {
	return strings.NewReplacer("I", "1", "O", "0", "Q", "0", "B", "8", "S", "5", "Z", "2").Replace(Plain(s))
}

// unread explains a number that follows no format.
func (n Number) unread() []string {
	count := utf8.RuneCountInString(n.Text)
	switch {
	case count == 17:
		return []string{fmt.Sprintf("%q has 17 characters, a hull identification number has 12; 17 is the length of a trailer's or car's number", n.Text)}
	case count != length:
		return []string{fmt.Sprintf("%q has %d characters, a hull identification number has 12", n.Text, count)}
	case !allAlphanumeric(n.Text):
		return []string{fmt.Sprintf("%q holds other signs than letters and digits", n.Text)}
	}
	if better := n.suggestion(); better != "" {
		return []string{fmt.Sprintf("%q states no month and year; perhaps %s is stamped, which would be %s", n.Text, better, Decode(better).Words())}
	}
	return []string{fmt.Sprintf("%q states no month and year in its last four places", n.Text)}
}

// Words says what the number states: "December 1994, model year 1995".
func (n Number) Words() string {
	switch n.Format {
	case Other:
		return "nothing that can be read"
	case StraightYear:
		return fmt.Sprintf("%s %d", n.Month, n.Built)
	}
	return fmt.Sprintf("%s %d, model year %d", n.Month, n.Built, n.ModelYear)
}

// suggestion replaces look-alikes in the last four places, where each place
// takes either letters or digits only; "" if that makes no date.
func (n Number) suggestion() string {
	toDigit := strings.NewReplacer("I", "1", "O", "0", "Q", "0", "B", "8", "L", "1", "S", "5", "Z", "2")
	toLetter := strings.NewReplacer("1", "I", "8", "B")
	head, date := n.Text[:dateAt], n.Text[dateAt:]
	for _, s := range []string{
		date[:1] + toDigit.Replace(date[1:]),
		toLetter.Replace(date[:1]) + toDigit.Replace(date[1:]),
		date[:1] + toDigit.Replace(date[1:3]) + toLetter.Replace(date[3:]),
		toDigit.Replace(date),
	} {
		if Decode(head+s).Format != Other {
			return head + s
		}
	}
	return ""
}

// lookAlikes finds letters and digits where the rule puts none: a maker's code
// is letters, and the serial number has no I, O or Q.
func (n Number) lookAlikes() string {
	twin := map[byte]string{'I': "1", 'O': "0", 'Q': "0", '1': "I", '0': "O", '8': "B"}
	for i := range dateAt {
		c := n.Text[i]
		switch {
		case i >= serialAt && strings.IndexByte("IOQ", c) >= 0:
			return fmt.Sprintf("%q has the letter %c in its serial number, where none stands; perhaps it is %s", n.Text, c, twin[c])
		case i < serialAt && twin[c] != "" && within(c, '0', '9'):
			return fmt.Sprintf("%q has the digit %c in its maker's code; perhaps it is the letter %s", n.Text, c, twin[c])
		}
	}
	return ""
}

// oddDates finds years that do not go together.
func (n Number) oddDates() []string {
	switch {
	case n.Format != Current && n.late():
		return []string{fmt.Sprintf("%q states %s in the %s, which ended in July 1984", n.Text, n.Words(), n.Format)}
	case n.Format != Current:
		return nil
	}
	switch gap := n.ModelYear - n.Built; {
	case gap > 2:
		return []string{fmt.Sprintf("%q states %s, %d years apart", n.Text, n.Words(), gap)}
	case gap < 0:
		return []string{fmt.Sprintf("%q states %s: built after its model year", n.Text, n.Words())}
	}
	return nil
}
