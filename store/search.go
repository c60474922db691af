package store

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"bellbuoy/schedule"
)

// fold makes texts comparable for a search: small letters without marks.
func fold(s string) string {
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

// onlyDigits keeps the digits of a telephone number.
func onlyDigits(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

func customerSearch(c schedule.Customer) string {
	return joinLines([]string{fold(c.Name), fold(c.ID), fold(c.Email), onlyDigits(c.Phone)})
}

func boatSearch(b schedule.Boat) string {
	return joinLines([]string{fold(b.Name), fold(b.ID), fold(b.HIN), fold(b.Make + " " + b.Model)})
}
