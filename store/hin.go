package store

import (
	"fmt"
	"strings"
)

// checkHIN says what is odd about a hull identification number: twelve capital
// letters and digits, of which the serial number in places 4 to 8 has no I, O
// or Q (33 CFR 181.25). Boats built before November 1972 and abroad have other
// numbers or none, so that this is a remark and never a refusal.
func checkHIN(s string) error {
	if s == "" {
		return nil
	}
	if n := len([]rune(s)); n != 12 {
		return fmt.Errorf("%q has %d characters, a hull identification number has 12", s, n)
	}
	for i, r := range s {
		switch {
		case !(r >= 'A' && r <= 'Z' || r >= '0' && r <= '9'):
			return fmt.Errorf("%q holds %q, a hull identification number has letters and digits", s, r)
		case i >= 3 && i < 8 && strings.ContainsRune("IOQ", r):
			return fmt.Errorf("%q has the letter %c in its serial number, perhaps a digit misread", s, r)
		}
	}
	return nil
}
