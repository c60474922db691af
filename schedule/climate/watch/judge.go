package watch

import "math"

// Level is what a night is worth.
type Level int

// The levels.
const (
	Quiet Level = iota
	Watch       // worth a look: a list, and nothing else
	Alarm       // worth a night's work: calls, emails, the plan
)

// String names the level.
func (l Level) String() string { return [...]string{"quiet", "watch", "alarm"}[l] }

// Limits are the shop's figures for judging a night, in °C and hours.
// [DefaultLimits] gives the usual ones.
type Limits struct {
	// Offset is by how much the yard, or the hollow where the boats lie, is colder
	// than the forecast's point.
	Offset float64
	// Margin is taken off the forecast low before it counts as no freeze.
	Margin float64
	// AlarmBelow and AlarmHours: so many hours at or below so many degrees break
	// an engine.
	AlarmBelow, AlarmHours float64
	// AlarmChance is the least chance of those hours, 0 to 1, that raises an alarm.
	AlarmChance float64
	// SigmaFirst and SigmaFifth are the standard errors of a forecast low on the
	// first and on the fifth night.
	SigmaFirst, SigmaFifth float64
}

// DefaultLimits are the usual figures. The errors are assumptions: first-night
// minima within 2 °C in 86.5 % of cases (a national service's page on its own
// accuracy, 36 months) would be a sigma of 1.3 °C at best, interiors are worse,
// and by the fifth night about 3.5 °C is remembered. Four hours at or below
// -2.2 °C (28 °F, the usual hard freeze), the chance and the margin are common
// practice, no source.
func DefaultLimits() Limits {
	return Limits{Margin: 2, AlarmBelow: -2.2, AlarmHours: 4, AlarmChance: 0.3, SigmaFirst: 2, SigmaFifth: 3.5}
}

// Sigma is the standard error of a forecast that many nights ahead, in °C: a
// straight line through the first and the fifth night, and on.
func (l *Limits) Sigma(lead int) float64 {
	return l.SigmaFirst + (l.SigmaFifth-l.SigmaFirst)*float64(max(lead, 1)-1)/4
}

// Verdict is a night judged for a yard.
type Verdict struct {
	Night
	Level     Level
	YardLow   float64 // the forecast low less the yard's offset
	Freezing  float64 // hours at or below 0 °C at the yard
	HardHours float64 // hours at or below the alarm's threshold at the yard
	// Chance is that of at least the alarm's hours at or below its threshold, 0 to
	// 1: the whole night is taken to be off by one error, normal and without bias.
	Chance float64
}

// Judge says what a night is worth at a yard. A night that the forecast does not
// cover well enough is quiet and not Known.
func (l *Limits) Judge(n Night) Verdict {
	v := Verdict{Night: n}
	if !n.Known {
		return v
	}
	v.YardLow = n.Low - l.Offset
	v.Freezing = n.HoursAtOrBelow(l.Offset)
	v.HardHours = n.HoursAtOrBelow(l.AlarmBelow + l.Offset)
	if c, ok := n.coldestFor(l.AlarmHours); ok {
		v.Chance = normal((l.AlarmBelow - (c - l.Offset)) / l.Sigma(n.Lead))
	}
	switch {
	case v.Chance >= l.AlarmChance:
		v.Level = Alarm
	case v.YardLow-l.Margin <= 0:
		v.Level = Watch
	}
	return v
}

// normal is the standard normal distribution.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
