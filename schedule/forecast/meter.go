package forecast

import (
	"math"
	"sort"

	"bellbuoy/schedule/civil"
)

// Since returns the forecast of what is run from a day after the last reading
// on, as if the meter had then been read at what was expected of it. An interval
// counted from work on that day at hours that nobody wrote down begins there: how
// unsure the hours before it are says nothing about the hours after it.
func (m *Model) Since(day civil.Day) *Model {
	if !m.Known() || day <= m.last().day {
		return m
	}
	c := *m
	c.past = []mark{{day: day, hours: m.Expected(day), offset: m.last().offset}}
	return &c
}

// ToCurrent converts a figure read on a day to what the meter now fitted would
// have shown then, so that an interval counted from a service on the old meter
// ends at the right figure of the new one. The result may be below 0. On a day
// on which either meter may have been fitted, the figure belongs to the one
// whose own reading it is nearer to.
func (m *Model) ToCurrent(hours float64, on civil.Day) float64 {
	if !m.Known() {
		return hours
	}
	return hours + m.offsetFor(hours, on) - m.last().offset
}

// Total converts a figure of the meter now fitted to the engine's hours in
// total, over all its meters.
func (m *Model) Total(hours float64) float64 {
	if !m.Known() {
		return hours
	}
	return hours + m.last().offset
}

// offsetFor returns the offset of the meter that a figure was read from.
func (m *Model) offsetFor(hours float64, on civil.Day) float64 {
	// Readings from the last before the day to the first after it are of
	// meters that may have been fitted on it.
	lo := sort.Search(len(m.past), func(i int) bool { return m.past[i].day >= on }) - 1
	hi := sort.Search(len(m.past), func(i int) bool { return m.past[i].day > on })
	lo, hi = max(lo, 0), min(hi, len(m.past)-1)
	best := m.past[lo]
	for _, k := range m.past[lo : hi+1] {
		if math.Abs(k.hours-hours) < math.Abs(best.hours-hours) {
			best = k
		}
	}
	return best.offset
}
