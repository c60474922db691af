package forecast

import (
	"math"
	"sort"

	"bellbuoy/schedule/civil"
)

// horizonYears is how far after the last reading a day is still forecast.
const horizonYears = 15

// half is the part of an outing that on average lies beyond a limit met in it.
const half = 0.5

// Range returns the central interval that the meter lies in on the morning of
// a day with chance p, in hours. For a day before the last reading it is the
// readings on either side, which bound it for certain.
func (m *Model) Range(on civil.Day, p float64) (lo, hi float64) {
	if !m.Known() {
		return 0, 0
	}
	last := m.last()
	if on <= last.day {
		return m.between(on)
	}
	n := m.outlook(m.season.Exposure(last.day, on))
	hours := func(k float64) float64 { return last.hours + m.prior.OutingHours*max(0, k-half) }
	return hours(n.countAt((1 + p) / 2)), hours(n.countAt((1 - p) / 2))
}

// between returns the readings before and after a day of the past.
func (m *Model) between(on civil.Day) (lo, hi float64) {
	offset := m.last().offset
	i := sort.Search(len(m.past), func(i int) bool { return m.past[i].day >= on })
	hi = m.past[i].total() - offset
	switch {
	case m.past[i].day == on:
		return hi, hi
	case i == 0:
		return -offset, hi
	}
	return m.past[i-1].total() - offset, hi
}

// ReachedBy returns the probability that the meter has reached a figure by the
// morning of a day. For days up to the last reading it is 0 or 1, as Expected
// has it.
func (m *Model) ReachedBy(hours float64, on civil.Day) float64 {
	if !m.Known() {
		return 0
	}
	last := m.last()
	switch {
	case on < last.day && m.Expected(on) < hours, on == last.day && last.hours < hours:
		return 0
	case on <= last.day, hours <= last.hours:
		return 1
	}
	return m.outlook(m.season.Exposure(last.day, on)).atLeast(m.outings(hours))
}

// LaterThan reports whether the figure is reached only after the morning of
// the day, at chance p: whether DayReached(hours, p) is a later day. It is much
// cheaper than that day, and most often needs no special function at all.
func (m *Model) LaterThan(hours, p float64, day civil.Day) bool {
	if !m.Known() {
		return true
	}
	last := m.last()
	if day > last.day && hours > last.hours {
		n, k := m.outlook(m.season.Exposure(last.day, day)), m.outings(hours)
		if lo, hi := n.bounds(k); hi < p || lo >= p {
			return hi < p
		}
		return n.atLeast(k) < p
	}
	return m.ReachedBy(hours, day) < p
}

// DayReached returns the first day by whose morning the meter has reached a
// figure with probability p, and false if that is more than 15 years after the
// last reading or the model is not Known. For a figure that the last reading
// has reached, it is the day on which the history got there; what was reached
// before the first reading is dated to it.
func (m *Model) DayReached(hours, p float64) (civil.Day, bool) {
	if !m.Known() {
		return 0, false
	}
	last := m.last()
	if hours <= last.hours {
		return m.dayPassed(hours), true
	}
	x := betaQuantile(m.outings(hours), m.a, math.Min(math.Max(p, 0), 1))
	exposure := m.b * x / (1 - x)
	if !(exposure <= horizonYears) {
		return 0, false
	}
	return m.season.DayAfter(last.day, exposure), true
}

// dayPassed returns the day on which the history reached a figure at or below
// the last reading.
func (m *Model) dayPassed(hours float64) civil.Day {
	total := hours + m.last().offset
	i := sort.Search(len(m.past), func(i int) bool { return m.past[i].total() >= total })
	if i == 0 {
		return m.past[0].day
	}
	from, to := m.past[i-1], m.past[i]
	share := (total - from.total()) / (to.total() - from.total())
	if whole := m.season.Exposure(from.day, to.day); whole > 0 {
		return min(m.season.DayAfter(from.day, share*whole), to.day)
	}
	return from.day + civil.Day(math.Ceil(share*float64(to.day-from.day)))
}

// NeedsReading reports whether the customer should be asked to read the meter
// before work at a figure is planned. That is so if the limit may be near (one
// chance in four within lead days), the days between one chance in four and
// three in four are more than lead days apart, and a new reading would tell
// more than the last one: that is at least lead days old and the boat has been
// afloat since. An engine that is not Known always needs one.
func (m *Model) NeedsReading(today civil.Day, hours float64, lead int) bool {
	if !m.Known() {
		return true
	}
	last, ahead := m.last(), civil.Day(lead)
	if hours <= last.hours || last.day+ahead > today ||
		m.season.Exposure(last.day, today) <= 0 || m.LaterThan(hours, 0.25, today+ahead) {
		return false
	}
	soon, ok := m.DayReached(hours, 0.25)
	return ok && m.LaterThan(hours, 0.75, soon+ahead)
}

// outings returns how many outings from the last reading on take the meter to
// a figure above it.
func (m *Model) outings(hours float64) float64 {
	return (hours-m.last().hours)/m.prior.OutingHours + half
}

// outlook returns the distribution of the outings in a running time ahead.
func (m *Model) outlook(exposure float64) outlook { return outlook{m.a, m.b, exposure} }
