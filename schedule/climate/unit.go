package climate

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Unit is the unit of a file's temperatures.
type Unit int

// Units of daily minima.
const (
	UnitUnknown Unit = iota // to be told from the header or the values, if they leave no doubt
	TenthsC                 // tenths of a degree Celsius, as GHCN-Daily keeps them
	Celsius                 // degrees Celsius
	Fahrenheit              // degrees Fahrenheit
)

// ParseUnit reads "tenths", "c" or "f", in either case; the empty text is
// [UnitUnknown].
func ParseUnit(s string) (Unit, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "":
		return UnitUnknown, nil
	case "tenths":
		return TenthsC, nil
	case "c":
		return Celsius, nil
	case "f":
		return Fahrenheit, nil
	}
	return 0, fmt.Errorf(`temperature unit %q: want "tenths" (tenths of °C), "c" or "f"`, s)
}

// String names the unit as a person would.
func (u Unit) String() string {
	switch u {
	case TenthsC:
		return "tenths of °C"
	case Celsius:
		return "°C"
	case Fahrenheit:
		return "°F"
	}
	return "unknown unit"
}

// tenths converts a value in the unit to tenths of °C, rounded to nearest.
func (u Unit) tenths(v float64) int {
	switch u {
	case Celsius:
		v *= 10
	case Fahrenheit:
		v = (v - 32) * 50 / 9
	}
	return int(math.Round(v))
}

// parseNumber reads a plain decimal such as "-2.2". The exponents, hex digits
// and infinities that strconv would also take have no place in these files.
func parseNumber(s string) (float64, bool) {
	if s == "" || len(s) > 12 || strings.Trim(s, "+-.0123456789") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// headerUnit reads the unit that some exports put behind the column's name:
// "TMIN (Degrees Fahrenheit)".
func headerUnit(suffix string) Unit {
	s := strings.ToLower(strings.Trim(suffix, " ()"))
	switch {
	case s == "":
		return UnitUnknown
	case strings.Contains(s, "fahrenheit"), s == "f", s == "°f":
		return Fahrenheit
	case strings.Contains(s, "tenths"):
		return TenthsC
	case strings.Contains(s, "celsius"), s == "c", s == "°c":
		return Celsius
	}
	return UnitUnknown
}

// The bounds that tell units apart. The warmest night on record anywhere is a
// little under 45 °C / 113 °F and the coldest about -89 °C / -129 °F (from
// memory, rounded outwards).
const (
	warmestNightC = 45
	warmestNightF = 113
	coldestNightF = -130
	// coldSummer: a place whose warmest summer night is 35 °F (under 2 °C) or
	// 3.5 °C has no boating season, so a summer that stays below 35 is in °C.
	coldSummer = 35
	// enough values beyond a bound, so that a single slip of the pen cannot
	// decide the unit.
	enough = 3
	// summerDays that a file must have before its warmest night means anything.
	summerDays = 60
)

// evidence is what the values of a file say about their unit.
type evidence struct {
	low, high                       float64
	fractions, overC, overF, underF int
	summer, mildSummer, values      int
}

func weigh(raw []reading) evidence {
	e := evidence{low: math.Inf(1), high: math.Inf(-1)}
	for _, r := range raw {
		e.values++
		e.low, e.high = min(e.low, r.value), max(e.high, r.value)
		count(&e.fractions, r.value != math.Trunc(r.value))
		count(&e.overC, r.value > warmestNightC)
		count(&e.overF, r.value > warmestNightF)
		count(&e.underF, r.value < coldestNightF)
		if m := r.day.Month(); m >= time.June && m <= time.August {
			e.summer++
			count(&e.mildSummer, r.value > coldSummer)
		}
	}
	return e
}

func count(n *int, yes bool) {
	if yes {
		*n++
	}
}

// unit returns the only unit that the values allow, with the reason, or
// [UnitUnknown] if more than one is possible.
func (e evidence) unit() (Unit, string) {
	whole := e.fractions == 0
	switch {
	case whole && e.overF >= enough:
		return TenthsC, "no night on earth is that warm in whole degrees"
	case whole && e.underF >= enough:
		return TenthsC, "no night on earth is that cold in whole degrees"
	case e.fractions >= enough && e.overC >= enough && e.overF == 0:
		return Fahrenheit, "values with decimals are no tenths, and no night is that warm in °C"
	case e.summer >= summerDays && e.mildSummer == 0 && e.overC == 0:
		return Celsius, "in any other unit its summer nights would all be near freezing"
	}
	return UnitUnknown, ""
}
