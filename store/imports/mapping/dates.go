package mapping

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports/sheet"
)

// DateOrders are the orders in which a column may write day, month and year. A
// column with several separators may have an order for each: "/ mdy . dmy". Each
// may be followed by " excel", where bare numbers are a spreadsheet's day numbers.
func DateOrders() []string { return []string{"mdy", "dmy", "ymd"} }

// excelWord admits day numbers in a column. eitherOrder takes the dates that fit
// one order of day and month only; those that fit both come back.
const excelWord, eitherOrder = "excel", "either"

// dateOrder is what a column's dates are written in.
type dateOrder struct {
	usual   string            // "" where the separator decides
	by      map[string]string // by separator
	serials bool
}

// parseOrder takes "mdy", "/ mdy . dmy" or "mdy excel" apart.
func parseOrder(s string) (o dateOrder, err error) {
	words := strings.Fields(s)
	if n := len(words); n > 1 && words[n-1] == excelWord {
		o.serials, words = true, words[:n-1]
	}
	known := append(DateOrders(), eitherOrder)
	if len(words) == 1 && slices.Contains(known, words[0]) {
		o.usual = words[0]
		return o, nil
	}
	if len(words) == 0 || len(words)%2 != 0 {
		return o, badOrder(s)
	}
	o.by = map[string]string{}
	for pair := range slices.Chunk(words, 2) {
		if len(pair[0]) != 1 || !strings.Contains(separators, pair[0]) || !slices.Contains(known, pair[1]) {
			return o, badOrder(s)
		}
		o.by[pair[0]] = pair[1]
	}
	return o, nil
}

func badOrder(s string) error {
	return fmt.Errorf("%q; want one of %s or %s, for each separator if they differ (\"/ mdy . dmy\"), and excel after it where bare numbers are day numbers of a spreadsheet",
		s, strings.Join(DateOrders(), ", "), eitherOrder)
}

// separators of dates that may tell their order.
const separators = "/.-"

// separatorOf is what stands between the numbers of a date, "" if that is none of
// [separators].
func separatorOf(s string) string {
	s = cutTime(s)
	for i := 1; i < len(s); i++ {
		if strings.IndexByte(separators, s[i]) >= 0 && s[i-1] >= '0' && s[i-1] <= '9' {
			return s[i : i+1]
		}
	}
	return ""
}

// of is the order of one date.
func (o dateOrder) of(s string) (string, error) {
	if o.usual != "" {
		return o.usual, nil
	}
	if order := o.by[separatorOf(s)]; order != "" {
		return order, nil
	}
	if separatorOf(s) == "" {
		return eitherOrder, nil
	}
	return "", fmt.Errorf("%q: the mapping does not say in which order dates with %q are written", s, separatorOf(s))
}

// The days between which a date of a boat's life lies; outside it is a slip.
const firstYear, yearsAhead = 1950, 60

// ParseDay reads a date in the stated order, "mdy", "dmy" or "ymd", perhaps
// followed by " excel". Whatever the order, a year of four digits in front
// means year, month, day, and a month's English name stands for itself. A year
// of two digits is the one between 79 years before today and 20 after. A
// weekday before and a time behind are passed over.
func ParseDay(cell sheet.Cell, order string, today civil.Day) (civil.Day, error) {
	s := strings.TrimSpace(cell.Text)
	if cell.Kind == sheet.Day {
		return inLife(s, today)(civil.Parse(s))
	}
	orders, err := parseOrder(order)
	if err != nil {
		return 0, fmt.Errorf("%q: the mapping does not say in which order its dates are written", s)
	}
	if n, err := strconv.ParseFloat(s, 64); err == nil && !strings.ContainsAny(s, "eExXpPnN") && !isBasic(s) {
		if !orders.serials && cell.Kind == sheet.Number {
			return 0, fmt.Errorf(`%q is a number; if the column holds a spreadsheet's day numbers, its dates are "%s %s"`, s, order, excelWord)
		}
		if orders.serials {
			return inLife(s, today)(fromSerial(n), nil)
		}
	}
	parts, named, err := dateParts(s)
	if err != nil {
		return 0, err
	}
	one, err := orders.of(s)
	if err != nil {
		return 0, err
	}
	if one != eitherOrder {
		return inLife(s, today)(compose(s, parts, named, one, today))
	}
	return inLife(s, today)(composeEither(s, parts, named, today))
}

// composeEither puts three numbers together that fit one order of day and month
// only.
func composeEither(s string, p [3]string, named int, today civil.Day) (civil.Day, error) {
	m, errM := compose(s, p, named, "mdy", today)
	d, errD := compose(s, p, named, "dmy", today)
	switch {
	case errM == nil && errD == nil && m != d:
		return 0, fmt.Errorf("%q may be %s or %s; write it as one of them", s, m, d)
	case errM == nil:
		return m, nil
	}
	return d, errD
}

// inLife refuses days that no boat of today has seen or will see.
func inLife(s string, today civil.Day) func(civil.Day, error) (civil.Day, error) {
	return func(d civil.Day, err error) (civil.Day, error) {
		if err == nil && (d.Year() < firstYear || d.Year() > today.Year()+yearsAhead) {
			return 0, fmt.Errorf("%q: %s is out of bounds; look at the year", s, d)
		}
		return d, err
	}
}

// fromSerial counts a spreadsheet's days: 1 is 1 January 1900, and a 29
// February 1900 that never was is counted too, so that 61 is 1 March 1900.
func fromSerial(n float64) civil.Day {
	if n < 0 || n > 2958465 { // 31 December 9999
		n = 0
	}
	return civil.Of(1899, 12, 30) + civil.Day(n)
}

// dateParts takes a date apart into three pieces; named is the place of a
// month that is a word, -1 if none is.
func dateParts(s string) (parts [3]string, named int, err error) {
	named = -1
	all := strings.FieldsFunc(cutTime(s), func(r rune) bool { return strings.ContainsRune("/-. ,", r) || unicode.IsSpace(r) })
	if len(all) == 1 && isBasic(all[0]) {
		all = []string{all[0][:4], all[0][4:6], all[0][6:]}
	}
	if len(all) == 4 && isWeekday(all[0]) {
		all = all[1:]
	}
	if len(all) == 1 {
		all = splitLetters(all[0])
	}
	if len(all) != 3 {
		return parts, -1, noDate(s)
	}
	for i, p := range all {
		p = strings.ToLower(p)
		if m := monthNamed(p); m > 0 && named < 0 {
			named, p = i, strconv.Itoa(m)
		} else if !isDigits(p) {
			p = strings.TrimRight(p, "stndrh") // 1st, 2nd, 3rd, 4th
		}
		if !isDigits(p) || len(p) > 4 || len(p) == 3 {
			return parts, -1, noDate(s)
		}
		parts[i] = p
	}
	return parts, named, nil
}

func noDate(s string) error {
	return fmt.Errorf("%q is no date that can be read; want day, month and year", s)
}

// compose puts three numbers together in an order.
func compose(s string, p [3]string, named int, order string, today civil.Day) (civil.Day, error) {
	switch {
	case len(p[0]) == 4 && named == 2:
		order = "ydm"
	case len(p[0]) == 4:
		order = "ymd"
	case named == 0:
		order = "mdy"
	case named == 1:
		order = "dmy"
	case named == 2:
		return 0, fmt.Errorf("%q is no date that can be read; the month's name stands last", s)
	}
	at := func(letter string) string { return p[strings.Index(order, letter)] }
	if len(at("m")) > 2 || len(at("d")) > 2 {
		return 0, fmt.Errorf("%q does not fit the order %s", s, order)
	}
	year, month, day := atoi(at("y")), atoi(at("m")), atoi(at("d"))
	switch len(at("y")) {
	case 2:
		year = nearYear(year, today.Year())
	case 1:
		return 0, fmt.Errorf("%q: a year has two or four digits", s)
	}
	d := civil.Of(year, time.Month(month), day)
	if y, m, dd := d.Date(); y != year || int(m) != month || dd != day { // 31 June is 1 July
		return 0, fmt.Errorf("%q is no day in the order %s", s, order)
	}
	return d, nil
}

// nearYear completes a year of two digits.
func nearYear(yy, now int) int {
	y := now/100*100 + yy
	for y > now+20 {
		y -= 100
	}
	for y <= now-80 {
		y += 100
	}
	return y
}

// cutTime takes a time of day off the end: "9:30", "09:30:00 PM", "T09:30Z".
func cutTime(s string) string {
	colon := strings.IndexByte(s, ':')
	if colon < 0 {
		return s
	}
	start := strings.LastIndexAny(s[:colon], " T")
	if start < 0 {
		return s
	}
	return s[:start]
}

// splitLetters divides "4Mar22" where digits and letters meet.
func splitLetters(s string) []string {
	i := strings.IndexFunc(s, unicode.IsLetter)
	j := strings.LastIndexFunc(s, unicode.IsLetter)
	if i <= 0 || j < 0 || j+1 >= len(s) || s[j+1] < '0' || s[j+1] > '9' {
		return []string{s}
	}
	return []string{s[:i], s[i : j+1], s[j+1:]}
}

func monthNamed(s string) int {
	months := []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}
	if len(s) < 3 {
		return 0
	}
	return 1 + slices.IndexFunc(months, func(m string) bool { return strings.HasPrefix(m, s) })
}

func isWeekday(s string) bool {
	if len(s) < 2 {
		return false
	}
	return slices.ContainsFunc([]string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"},
		func(d string) bool { return strings.HasPrefix(d, strings.ToLower(s)) })
}

// isBasic reports whether s is of the form 20060102.
func isBasic(s string) bool { return len(s) == len("20060102") && isDigits(s) }

func isDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// atoi reads a few digits that are known to be digits.
func atoi(s string) int {
	n, _ := strconv.Atoi(s)
	return n
}
