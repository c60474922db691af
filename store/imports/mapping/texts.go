package mapping

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"github.com/nyaruka/phonenumbers"
)

// Phone writes telephone numbers alike: "+1 296-555-0111", with " / " between
// several. Numbers without a country code are the region's. ok is false where
// a number cannot be one; it then stays as it was written.
func Phone(s, region string) (number string, ok bool) {
	var all []string
	for _, one := range strings.FieldsFunc(s, func(r rune) bool { return r == '/' || r == ';' || r == '|' || r == '\n' }) {
		if one = strings.TrimSpace(one); one == "" {
			continue
		}
		n, err := phonenumbers.Parse(one, region)
		if err != nil || phonenumbers.IsPossibleNumberWithReason(n) != phonenumbers.IS_POSSIBLE {
			return s, false
		}
		all = append(all, phonenumbers.Format(n, phonenumbers.INTERNATIONAL))
	}
	return strings.Join(all, " / "), len(all) > 0
}

// PhoneRegion reports whether telephone numbers of a region are known, by its
// ISO 3166 code.
func PhoneRegion(code string) bool { return phonenumbers.GetCountryCodeForRegion(code) != 0 }

// TurnName turns "Quillfeather, Jørn" round. A name without a comma, or with
// several, stays as it is.
func TurnName(s string) string {
	last, first, ok := strings.Cut(s, ",")
	if !ok || strings.Contains(first, ",") || strings.TrimSpace(first) == "" {
		return s
	}
	return strings.TrimSpace(first) + " " + strings.TrimSpace(last)
}

// feetPerMetre is exact: a foot is 0.3048 m.
const feetPerMetre = 1 / 0.3048

// Lengths are written alike in two steps: words first become "ft" and "in", then those
// become signs.
var (
	unitWords = strings.NewReplacer("’", "'", "feet", "ft", "foot", "ft", "inches", "in", "inch", "in", "”", `"`, "″", `"`, "′", "'", "''", `"`)
	unitSigns = strings.NewReplacer("ft.", "'", "ft", "'", "in.", `"`, "in", `"`, "metres", "m", "meters", "m")
)

// Feet reads a length: "21", "21.5 ft", `21'6"`, "21 ft 6 in", "6.5 m". The
// result is in feet, rounded to hundredths.
func Feet(s string) (float64, error) {
	t := strings.ToLower(strings.ReplaceAll(plainBlanks(s), ",", "."))
	t = unitSigns.Replace(unitWords.Replace(t))
	bad := fmt.Errorf("%q: want a length, for example 21.5 ft, 21'6\" or 6.5 m", s)
	number := func(v string) float64 {
		f, err := strconv.ParseFloat(strings.TrimSpace(v), 64)
		if err != nil || !(f >= 0 && f < 1000) {
			return -1
		}
		return f
	}
	feet := -1.0
	if metres, ok := strings.CutSuffix(t, "m"); ok {
		feet = number(metres) * feetPerMetre
	} else if whole, inches, ok := strings.Cut(t, "'"); ok {
		feet = number(whole)
		if inches = strings.TrimSuffix(strings.TrimSpace(inches), `"`); inches != "" && feet >= 0 {
			in := number(inches)
			if in < 0 || in >= 12 {
				return 0, bad
			}
			feet += in / 12
		}
	} else {
		feet = number(t)
	}
	if feet < 0 {
		return 0, bad
	}
	return float64(int(feet*100+0.5)) / 100, nil
}

// plainText takes blanks off both ends and control characters out of a text;
// line ends stay, as LF.
func plainText(s string) string {
	s = strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n"))
	if strings.IndexFunc(s, unicode.IsControl) < 0 {
		return s
	}
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return ' '
		}
		return r
	}, s))
}

// fold makes words comparable: small letters, one blank between.
func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
