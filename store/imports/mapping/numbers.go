package mapping

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"bellbuoy/schedule/measure"
	"bellbuoy/store/imports/sheet"
)

// style is how numbers are written: what groups thousands, 0 if nothing, and
// what stands before the decimals.
type style struct{ group, point rune }

// styleOf finds a style by the name that a mapping calls it by.
func styleOf(name string) (style, bool) {
	if !slices.Contains(NumberStyles(), name) {
		return style{}, false
	}
	st := style{point: rune(name[len(name)-len(".50")])}
	if len(name) > len("1234.50") {
		st.group = rune(name[1])
	}
	return st, true
}

// NumberStyles are the ways in which a column may write its numbers, each by
// the example of one thousand two hundred thirty-four and a half.
func NumberStyles() []string {
	return []string{"1234.50", "1,234.50", "1'234.50", "1 234.50", "1234,50", "1.234,50", "1 234,50"}
}

// plainStyle is how workbooks keep numbers and how defaults are written.
const plainStyle = "1234.50"

// decimal is a number without a sign as its digits.
type decimal struct{ whole, frac string }

// parse reads digits in a style; grouped thousands must be whole groups.
func (st style) parse(s string) (decimal, bool) {
	whole, frac, has := strings.Cut(s, string(st.point))
	if has && !isDigits(frac) {
		return decimal{}, false
	}
	if st.group != 0 && strings.ContainsRune(whole, st.group) {
		groups := strings.Split(whole, string(st.group))
		for i, g := range groups {
			if i > 0 && len(g) != 3 || i == 0 && (g == "" || len(g) > 3) {
				return decimal{}, false
			}
		}
		whole = strings.Join(groups, "")
	}
	if whole == "" && has {
		whole = "0"
	}
	return decimal{whole, frac}, isDigits(whole) && len(whole) <= 12
}

// ParseMoney reads an amount in the stated style. A sign may stand on either
// side, brackets or a "CR" behind make it negative, and currency signs and
// letters round it are passed over. A workbook's number is rounded to cents,
// because what the workbook shows is rounded too; in text, more than two
// decimals are refused.
func ParseMoney(cell sheet.Cell, name string) (measure.Cents, error) {
	s := plainBlanks(cell.Text)
	if cell.Kind == sheet.Number {
		f, err := strconv.ParseFloat(s, 64)
		cents := math.Round(f * 100)
		if err != nil || !(math.Abs(cents) < 1e14) { // as in text; also what is no number
			return 0, fmt.Errorf("%q is no amount of money", s)
		}
		return measure.Cents(cents), nil
	}
	st, ok := styleOf(name)
	if !ok {
		return 0, fmt.Errorf("%q: the mapping does not say how its numbers are written", s)
	}
	digits, negative := unwrap(s)
	d, ok := st.parse(digits)
	if !ok || len(d.frac) > 2 {
		return 0, fmt.Errorf("%q is no amount of money written like %s", s, name)
	}
	n, err := strconv.ParseInt(d.whole+(d.frac + "00")[:2], 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no amount of money", s)
	}
	if negative {
		n = -n
	}
	return measure.Cents(n), nil
}

// unwrap takes signs, brackets and currencies off an amount.
func unwrap(s string) (digits string, negative bool) {
	if inner, ok := strings.CutPrefix(s, "("); ok && strings.HasSuffix(inner, ")") {
		s, negative = strings.TrimSuffix(inner, ")"), true
	}
	decor := func(r rune) bool {
		return unicode.IsLetter(r) || unicode.Is(unicode.Sc, r) || r == ' ' || r == '-' || r == '+'
	}
	core := strings.TrimFunc(s, decor)
	if i := strings.LastIndexFunc(core, unicode.IsDigit); i >= 0 && i+1 < len(core) {
		core = core[:i+1] + strings.TrimFunc(core[i+1:], func(r rune) bool { return decor(r) || r == '.' || r == ',' })
	}
	head, tail, _ := strings.Cut(s, core)
	if i := strings.IndexFunc(core, unicode.IsDigit); i > 0 && strings.Trim(core[:i], ". ") == "" && strings.ContainsFunc(head, unicode.IsLetter) {
		core = core[i:] // "Fr. 12"
	}
	minus := strings.Count(head, "-") + strings.Count(tail, "-")
	credit := strings.EqualFold(strings.TrimSpace(tail), "cr")
	return core, negative || minus == 1 || credit
}

// ParseHours finds the one number in a text such as "1,234.5 hrs" or
// "hrs: 188" in the stated style, and rounds it to tenths, which is what a meter
// shows. estimate reports that the text calls it one ("~190", "about 190").
func ParseHours(cell sheet.Cell, name string) (h measure.Hours, estimate bool, err error) {
	s := plainBlanks(cell.Text)
	if cell.Kind == sheet.Number {
		name = plainStyle
	}
	st, ok := styleOf(name)
	if !ok {
		return 0, false, fmt.Errorf("%q: the mapping does not say how its numbers are written", s)
	}
	start := strings.IndexFunc(s, unicode.IsDigit)
	last := strings.LastIndexFunc(s, unicode.IsDigit)
	bad := func() error { return fmt.Errorf("%q: want the hours that one meter shows, written like %s", s, name) }
	if start < 0 || strings.HasSuffix(s[:start], "-") {
		return 0, false, bad()
	}
	d, ok := st.parse(s[start : last+1])
	if cell.Kind != sheet.Number && len(d.frac) > 2 {
		ok = false // more likely thousands in another style
	}
	if !ok || len(d.whole) > 5 {
		return 0, false, bad()
	}
	f, err := strconv.ParseFloat(d.whole+"."+d.frac+"0", 64)
	if err != nil || f > 99999.9 {
		return 0, false, bad()
	}
	return measure.Hours(math.Round(f * 10)), callsEstimate(s[:start] + " " + s[last+1:]), nil
}

// callsEstimate looks for a word or sign by which people mark a guess.
func callsEstimate(around string) bool {
	if strings.ContainsAny(around, "~≈?±") {
		return true
	}
	for _, w := range strings.FieldsFunc(strings.ToLower(around), func(r rune) bool { return !unicode.IsLetter(r) }) {
		switch w {
		case "about", "approx", "approximately", "ca", "circa", "est", "estimate", "estimated", "around":
			return true
		}
	}
	return false
}

// plainBlanks makes one kind of blank, minus and apostrophe of the many that
// programs write.
func plainBlanks(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) || r == '\u2009' || r == '\u202f':
			return ' '
		case r == '−' || r == '–':
			return '-'
		case r == '’':
			return '\''
		}
		return r
	}, s))
}
