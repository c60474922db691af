package climate

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Threshold is a temperature in tenths of a degree Celsius. A night counts as
// a freeze when its minimum is at or below it.
type Threshold int

// The two thresholds that a shop chooses between.
const (
	// Frost is 0 °C / 32 °F, the default and the cautious one.
	Frost Threshold = 0
	// HardFreeze is -2.2 °C / 28 °F. GHCN-Daily keeps tenths of °C, in which
	// 28 °F (-2.22 °C) is stored as -22.
	HardFreeze Threshold = -22
)

// thresholdLimit is the coldest and warmest threshold accepted, in tenths of
// °C: wide enough for all six published ones (16 to 36 °F), narrow enough to
// catch "32" typed without its unit in mind.
const thresholdLimit = 200

// ParseThreshold reads a temperature with its unit: "32F", "28 °F", "0C",
// "-2.2 °C". A number without a unit is refused, because 0 and 32 mean
// opposite things in the two scales.
func ParseThreshold(s string) (Threshold, error) {
	bad := fmt.Errorf(`freeze threshold %q: want a temperature with its unit, for example "32F" or "-2.2C"`, s)
	text := strings.ToUpper(strings.TrimSpace(s))
	number, unit := text, Celsius
	switch {
	case strings.HasSuffix(text, "F"):
		number, unit = strings.TrimSuffix(text, "F"), Fahrenheit
	case strings.HasSuffix(text, "C"):
		number = strings.TrimSuffix(text, "C")
	default:
		return 0, bad
	}
	v, ok := parseNumber(strings.TrimSpace(strings.TrimSuffix(number, "°")))
	if !ok {
		return 0, bad
	}
	tenths := unit.tenths(v)
	if tenths < -thresholdLimit || tenths > thresholdLimit {
		return 0, fmt.Errorf("freeze threshold %q: want a temperature between -20 °C and 20 °C (-4 °F and 68 °F)", s)
	}
	return Threshold(tenths), nil
}

// Celsius writes the threshold as "-2.2 °C", without a needless ".0".
func (t Threshold) Celsius() string {
	return strconv.FormatFloat(float64(t)/10, 'f', -1, 64) + " °C"
}

// Fahrenheit writes the threshold to the nearest whole degree, "28 °F".
func (t Threshold) Fahrenheit() string { return strconv.Itoa(t.fahrenheit()) + " °F" }

func (t Threshold) fahrenheit() int { return int(math.Round(float64(t)*9/50 + 32)) }

// String writes both scales: "-2.2 °C / 28 °F".
func (t Threshold) String() string { return t.Celsius() + " / " + t.Fahrenheit() }

// Meaning says in one or two plain sentences what the threshold stands for, so
// that nobody takes a gardener's figure for an engine maker's.
func (t Threshold) Meaning() string {
	switch t {
	case Frost:
		return t.String() + " is where fresh water turns to ice. It is the cautious choice."
	case HardFreeze:
		return t.String() + " is the usual hard freeze. It is a threshold made for plants, " +
			"not for engines: water left in an engine begins to freeze at 0 °C / 32 °F."
	}
	if t > Frost {
		return t.String() + " is the shop's own threshold, warmer than the point at which fresh water freezes."
	}
	return t.String() + " is the shop's own threshold, colder than the point at which fresh water freezes (0 °C / 32 °F)."
}
