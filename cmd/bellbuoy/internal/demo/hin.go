package demo

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"
)

// serialAlphabet is what 33 CFR 181.25(b) leaves for the serial number in
// positions 4 to 8: digits and letters without I, O and Q.
const serialAlphabet = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"

// hin invents the hull identification number of the n-th hull. No two hulls
// get the same. The maker's code mic is invented like the maker.
//
// The format is the one of the model year: 33 CFR 181.25 in force since 1984
// (month A to L and last digit of the year of manufacture, two digits of the
// model year), before that one of the two older ways of writing the date.
func hin(rng *rand.Rand, mic string, n, modelYear int) string {
	head := mic + serial(n)
	month := time.Month(between(rng, 1, 12))
	built := modelYear
	if month >= time.August { // next year's models come off the line in August
		built--
	}
	switch {
	case modelYear >= 1985:
		return fmt.Sprintf("%s%c%d%02d", head, 'A'+rune(month-1), built%10, modelYear%100)
	case chance(rng, 0.5): // straight year: month and year in digits
		return fmt.Sprintf("%s%02d%02d", head, month, built%100)
	}
	// Model year: an M, the model year, and months counted from August.
	letter := 'A' + rune((month+12-time.August)%12)
	return fmt.Sprintf("%sM%02d%c", head, modelYear%100, letter)
}

// serial scatters n over all five-character serials: the factor has no divisor
// in common with 33, so no two n below 33^5 meet.
func serial(n int) string {
	const all = 33 * 33 * 33 * 33 * 33
	n = n % all * 7_654_321 % all
	var s [5]byte
	for i := len(s) - 1; i >= 0; i-- {
		s[i] = serialAlphabet[n%33]
		n /= 33
	}
	return string(s[:])
}

// asWritten is the number as it ended up on the shop's card: mostly right, now
// and then with the country in front or with hyphens, rarely misread or cut
// short, and in one of twenty cases never copied from the transom.
func asWritten(rng *rand.Rand, hin string) string {
	switch p := rng.Float64(); {
	case p < 0.05:
		return ""
	case p < 0.06:
		return "US-" + hin
	case p < 0.07:
		return hin[:3] + "-" + hin[3:8] + "-" + hin[8:]
	case p < 0.075:
		return hin[:len(hin)-1]
	case p < 0.085 && strings.Contains(hin[3:8], "0"):
		return hin[:3] + strings.Replace(hin[3:], "0", "O", 1)
	}
	return hin
}
