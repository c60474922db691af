package words

import (
	"cmp"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/dustin/go-humanize"

	"bellbuoy/schedule/measure"
)

// The foot, the US gallon and the avoirdupois pound, NIST Handbook 44, appendix C.
const (
	metersAFoot   = 0.3048
	litersAGallon = 3.785411784
	kilosAPound   = 0.45359237
)

// Sign is that of the shop's currency: "$".
func (f Format) Sign() string { return cmp.Or(f.sign, "$") }

// Money writes an amount to the cent with its thousands set apart: "$1,234.50",
// "-$20.00", "CHF 1,234.50", "1 234,50 $".
func (f Format) Money(c measure.Cents) string {
	minus, c := split(c)
	cents := strconv.FormatInt(int64(c%100)+100, 10)[1:]
	return minus + f.signed(f.thousands(int64(c/100))+cmp.Or(f.decimal, ".")+cents)
}

// WholeMoney writes an amount in whole units, halves up: "$1,235". An estimate
// is written so: it has no cents.
func (f Format) WholeMoney(c measure.Cents) string {
	minus, c := split(c)
	units := int64(c+50) / 100
	if units == 0 {
		minus = ""
	}
	return minus + f.signed(f.thousands(units))
}

// Number writes a figure with so many decimals at the most: "1,234.5", "1 234,5".
func (f Format) Number(v float64, decimals int) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, frac, _ := strings.Cut(s, ".")
	n, err := strconv.ParseInt(whole, 10, 64)
	if err != nil {
		return s // more digits than anything that is counted here
	}
	s = f.thousands(n)
	if frac = strings.TrimRight(frac, "0"); frac != "" {
		s += cmp.Or(f.decimal, ".") + frac
	}
	if v < 0 && s != "0" {
		return "-" + s
	}
	return s
}

// Hours writes meter hours without their unit: "188.5", "188", "188,5".
func (f Format) Hours(h measure.Hours) string {
	return strings.Replace(h.String(), ".", cmp.Or(f.decimal, "."), 1)
}

// Labor writes minutes of work as hours without their unit: "2.5".
func (f Format) Labor(minutes int) string { return f.Hours(measure.Hours((minutes + 3) / 6)) }

// Temperature writes tenths of a degree Celsius in the shop's scale: "25°F" in
// whole degrees, "-4 °C" to the tenth.
func (f Format) Temperature(tenths int) string {
	if f.metric.celsius {
		return f.Number(float64(tenths)/10, 1) + f.degree + "°C"
	}
	return f.Number(math.Round(float64(tenths)*9/50+32), 0) + f.degree + "°F"
}

// Length writes a boat's length, which is kept in feet: "24 ft", "7.3 m".
func (f Format) Length(feet float64) string {
	if f.metric.meters {
		return f.Number(feet*metersAFoot, 1) + "\u00a0m"
	}
	return f.Number(feet, 1) + "\u00a0" + f.foot()
}

func (f Format) foot() string {
	if f.french {
		return "pi"
	}
	return "ft"
}

// Unit returns the unit in which the shop counts what is counted in unit, and how
// many of it one unit is: "gal" and 0.264 for "l" where liquids go by the gallon. Who
// counts in gallons counts in pounds.
func (f Format) Unit(unit string) (shops string, each float64) {
	switch {
	case unit == "l" && !f.metric.liters:
		return "gal", 1 / litersAGallon
	case unit == "gal" && f.metric.liters:
		return "l", litersAGallon
	case unit == "kg" && !f.metric.liters:
		return "lb", 1 / kilosAPound
	case unit == "lb" && f.metric.liters:
		return "kg", kilosAPound
	case unit == "m" && !f.metric.meters:
		return "ft", 1 / metersAFoot
	case unit == "ft" && f.metric.meters:
		return "m", metersAFoot
	}
	return unit, 1
}

// Quantity writes how much of a part in the shop's unit: "1.5 gal", "3 ft"; "2"
// pieces.
func (f Format) Quantity(q float64, unit string) string {
	unit, each := f.Unit(unit)
	number := f.Number(q*each, 2)
	switch unit {
	case "piece":
		return number
	case "ft":
		unit = f.foot()
	}
	return number + "\u00a0" + unit
}

func split(c measure.Cents) (minus string, amount measure.Cents) {
	if c < 0 {
		return "-", -c
	}
	return "", c
}

func (f Format) thousands(n int64) string {
	return strings.ReplaceAll(humanize.Comma(n), ",", cmp.Or(f.group, ","))
}

// signed puts the currency's sign where it stands. One of several letters is set
// apart from the digits.
func (f Format) signed(amount string) string {
	sign := f.Sign()
	if f.signAfter {
		return amount + "\u00a0" + sign
	}
	if last, _ := utf8.DecodeLastRuneInString(sign); unicode.IsLetter(last) && utf8.RuneCountInString(sign) > 1 {
		return sign + " " + amount
	}
	return sign + amount
}
