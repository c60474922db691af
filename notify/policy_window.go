package notify

import (
	"time"

	"bellbuoy/schedule/civil"
)

// SendingWindow says when reminders may leave, by the clock on the shop's wall.
type SendingWindow struct {
	// Hours are the opening and closing minute of the day for each weekday,
	// time.Sunday first; equal minutes are a day without sending.
	Hours [7][2]int
	// Closed reports a holiday; nil is none.
	Closed func(civil.Day) bool
}

// DefaultWindow is Monday to Friday 9 to 17 and Saturday 9 to 12.
func DefaultWindow() SendingWindow {
	var w SendingWindow
	for d := time.Monday; d <= time.Friday; d++ {
		w.Hours[d] = [2]int{9 * 60, 17 * 60}
	}
	w.Hours[time.Saturday] = [2]int{9 * 60, 12 * 60}
	return w
}

// Open reports whether reminders may leave at the instant, read in its own
// location: pass a time in the shop's zone.
func (w SendingWindow) Open(t time.Time) bool {
	day := civil.FromTime(t)
	if w.Closed != nil && w.Closed(day) {
		return false
	}
	h := w.Hours[day.Weekday()]
	m := t.Hour()*60 + t.Minute()
	return m >= h[0] && m < h[1]
}

// Opens returns the instant at which sending starts on the day; none if it
// does not.
func (w SendingWindow) Opens(day civil.Day, zone *time.Location) (time.Time, bool) {
	h := w.Hours[day.Weekday()]
	if h[0] >= h[1] || (w.Closed != nil && w.Closed(day)) {
		return time.Time{}, false
	}
	return day.At(h[0]/60, h[0]%60, zone), true
}

// WorkingDaysBefore counts n working days back from the day. Monday to Friday
// are working days where they are not holidays.
func (w SendingWindow) WorkingDaysBefore(day civil.Day, n int) civil.Day {
	for tries := 0; n > 0 && tries < 60; tries++ {
		day--
		weekend := day.Weekday() == time.Saturday || day.Weekday() == time.Sunday
		if !weekend && (w.Closed == nil || !w.Closed(day)) {
			n--
		}
	}
	return day
}

// Ramp returns how many more reminders may leave today: the first day of
// sending allows RampFrom, each further one twice as many, up to DailyCap. So a
// shop that takes in thousands of boats finds a mistake before thousands of
// customers do, and its mail host gets to know it slowly. Days count from 0;
// negative ones are before sending was switched on and allow nothing.
func Ramp(cfg PolicyConfig, daysSinceSwitchedOn, sentToday int) int {
	if daysSinceSwitchedOn < 0 {
		return 0
	}
	room := cfg.DailyCap
	if cfg.RampFrom > 0 && daysSinceSwitchedOn < 31 {
		room = min(room, cfg.RampFrom<<daysSinceSwitchedOn)
	}
	return max(0, room-sentToday)
}
