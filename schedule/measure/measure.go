// Package measure holds the two quantities that the program counts exactly:
// engine meter hours in tenths and money in cents. It is a leaf: the rule
// catalogue and the domain both count in it.
package measure

import (
	"fmt"
	"strconv"
	"strings"
)

// Hours are engine meter hours in tenths: 1885 is 188.5 h. Meters show one
// decimal; nothing is kept finer.
type Hours int32

// String writes "188.5" or "188".
func (h Hours) String() string {
	sign := ""
	if h < 0 {
		sign, h = "-", -h
	}
	if h%10 == 0 {
		return sign + strconv.Itoa(int(h/10))
	}
	return fmt.Sprintf("%s%d.%d", sign, h/10, h%10)
}

// Float returns the hours as a number.
func (h Hours) Float() float64 { return float64(h) / 10 }

// ParseHours reads "188", "188.5" or "188,5" with at most one decimal, not
// negative and at most 99,999.9.
func ParseHours(s string) (Hours, error) {
	whole, frac, has := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	n, err := strconv.ParseUint(whole, 10, 32)
	if err == nil && has {
		var f uint64
		f, err = strconv.ParseUint(frac, 10, 8)
		if len(frac) != 1 {
			err = strconv.ErrSyntax
		}
		n = n*10 + f
	} else {
		n *= 10
	}
	if err != nil || n > 999999 {
		return 0, fmt.Errorf("hours %q: want meter hours with at most one decimal, for example 188.5", s)
	}
	return Hours(n), nil
}

// Cents are money in hundredths of the shop's currency.
type Cents int64

// String writes the amount with two decimals and no currency sign: "1234.50".
func (c Cents) String() string {
	sign := ""
	if c < 0 {
		sign, c = "-", -c
	}
	return fmt.Sprintf("%s%d.%02d", sign, c/100, c%100)
}

// ParseCents reads "1234", "1234.5" or "-1234.50", no thousands separators.
func ParseCents(s string) (Cents, error) {
	bad := fmt.Errorf("amount %q: want money with at most two decimals and no separators, for example 1234.50", s)
	digits, neg := strings.CutPrefix(s, "-")
	whole, frac, has := strings.Cut(digits, ".")
	if (has && (frac == "" || len(frac) > 2)) || len(whole) > 12 {
		return 0, bad
	}
	n, err := strconv.ParseUint(whole+(frac + "00")[:2], 10, 63)
	if err != nil || whole == "" {
		return 0, bad
	}
	if neg {
		return -Cents(n), nil
	}
	return Cents(n), nil
}
