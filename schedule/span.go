package schedule

import (
	"fmt"

	"bellbuoy/schedule/civil"
)

// day is the day that the visit is shown for.
func (v *Visit) day() civil.Day {
	switch {
	case v.Booking != nil:
		return v.Booking.Day
	case v.Week != 0:
		return v.Week.Monday()
	}
	return v.Day
}

// SpanOn returns the days that the visit is shown on: the booked day, the
// pencilled week, or the day by itself while it has no week. Both ends are
// included.
func (v *Visit) SpanOn() (from, to civil.Day) {
	switch {
	case v.Booking != nil:
		return v.Booking.Day, v.Booking.Day
	case v.Week != 0:
		return v.Week.Monday(), v.Week.Sunday()
	}
	return v.Day, v.Day
}

// Standing is how a visit stands, in one line: open or booked, for which day
// (the Monday of a penciled week), which minute of it (-1 for none), for how
// many cents, and the number of the newest reply of its owner about it, 0 for
// none. A letter keeps it for each visit that it names; the outbox makes the
// same line of its rows when the letter is about to go out.
func (v *Visit) Standing(reply int64) string {
	state, minute := "open", -1
	if v.Booking != nil {
		state, minute = "booked", v.Booking.Minute
	}
	return fmt.Sprintf("%s %s %d %d %d", state, v.day(), minute, int64(v.Price), reply)
}
