package schedule

import "bellbuoy/schedule/civil"

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

// Late tells by how many days a visit misses the limit of what it carries, 0
// if it does not.
func (v *Visit) Late() int { return max(0, int(v.day()-v.Deadline)) }

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
