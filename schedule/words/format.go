package words

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Choices are what a shop may say of its formats. An empty one follows the
// country and the language.
type Choices struct {
	Country  string // ISO 3166-1: "US", which "" is too; the others are in countries.go
	Language string // "en", which "" is too, or "fr"
	Currency string // its sign: "$"

	DateOrder   string // "mdy", "dmy" or "ymd"
	Clock       string // "12" or "24"
	Decimal     string // "." or ","
	Temperature string // "F" or "C"
	Length      string // "ft" or "m"
	Volume      string // "gal" or "l"
}

// Format writes days, times, amounts and measures as one shop's readers expect
// them. It is made once from the settings and handed to whoever writes. The zero
// Format is that of the United States in English.
//
// The patterns are those of the Unicode CLDR, release 48; format_test.go has them,
// and says where we write otherwise.
type Format struct {
	choices   Choices
	french    bool
	order     order
	time      timeStyle
	am, pm    string // "" for "AM" and "PM"
	sign      string // of the currency, "" for "$"
	signAfter bool
	decimal   string // "" for "."
	group     string // between thousands, "" for ","
	degree    string // before the sign of a degree
	metric    struct{ celsius, meters, liters bool }
}

// order is the order of day, month and year.
type order int

const (
	monthDayYear order = iota
	dayMonthYear
	yearMonthDay
)

// timeStyle is how a time of day is written.
type timeStyle int

const (
	halves    timeStyle = iota // 2:30 PM
	colon                      // 14:30
	frenchHrs                  // 14 h 30
)

// New makes the format that the choices ask for. The error names every choice
// that there is not, with those that there are.
func New(c Choices) (Format, error) {
	var faults []error
	one := func(setting, value string, of ...string) {
		if value != "" && !slices.Contains(of, value) {
			faults = append(faults, fmt.Errorf("%s %q: want one of %s", setting, value, strings.Join(of, ", ")))
		}
	}
	one("country", c.Country, slices.Sorted(maps.Keys(countries))...)
	one("language", c.Language, Languages...)
	one("date_order", c.DateOrder, "mdy", "dmy", "ymd")
	one("clock", c.Clock, "12", "24")
	one("decimal_sign", c.Decimal, ".", ",")
	one("temperature", c.Temperature, "F", "C")
	one("length", c.Length, "ft", "m")
	one("volume", c.Volume, "gal", "l")
	if len(faults) > 0 {
		return Format{}, errors.Join(faults...)
	}
	f := usual(c)
	f.choose(c)
	return f, nil
}

// usual is the format of a country in a language.
func usual(c Choices) Format {
	if c.Country == "" {
		c.Country = "US"
	}
	in := countries[c.Country]
	f := Format{choices: c, order: in.order, time: in.time, am: in.am, pm: in.pm, sign: in.sign, decimal: in.decimal, group: in.group, degree: in.degree}
	f.metric.celsius, f.metric.meters, f.metric.liters = in.metric, in.metric && !in.feet, in.metric
	if c.Language != French {
		return f
	}
	f.french, f.signAfter, f.degree = true, true, "\u00a0"
	f.decimal, f.group = ",", in.frenchGroup
	f.time = in.frenchTime
	if f.order == monthDayYear {
		f.order = dayMonthYear // nobody writes "octobre 5"
	}
	return f
}

// choose puts the shop's own choices over what is usual.
func (f *Format) choose(c Choices) {
	f.order = pick(c.DateOrder, f.order, map[string]order{"mdy": monthDayYear, "dmy": dayMonthYear, "ymd": yearMonthDay})
	switch {
	case c.Clock == "12":
		f.time = halves
	case c.Clock == "24" && f.time == halves:
		f.time = colon
	}
	if c.Currency != "" {
		f.sign = c.Currency
	}
	if c.Decimal != "" && c.Decimal != f.decimal {
		f.decimal = c.Decimal
		f.group = map[string]string{".": ",", ",": "."}[c.Decimal]
	}
	f.metric.celsius = pick(c.Temperature, f.metric.celsius, map[string]bool{"F": false, "C": true})
	f.metric.meters = pick(c.Length, f.metric.meters, map[string]bool{"ft": false, "m": true})
	f.metric.liters = pick(c.Volume, f.metric.liters, map[string]bool{"gal": false, "l": true})
}

func pick[T any](choice string, usual T, of map[string]T) T {
	if v, ok := of[choice]; ok {
		return v
	}
	return usual
}

// In is the same shop's format for readers of another language, one of
// [Languages].
func (f Format) In(language string) Format {
	c := f.choices
	c.Language = language
	other, err := New(c)
	if err != nil {
		return f // of a language that there is not
	}
	return other
}
