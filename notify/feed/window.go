package feed

import (
	"time"

	"bellbuoy/schedule/civil"
)

// Window is the span of days whose events a feed shows on a day: from about
// two months back, so that a finished or missed day does not vanish at once, to
// nineteen months on, which holds the next lay-up and the fit-out after it
// whenever one looks. From and to are both included.
//
// The window moves on the first of each month and not daily, so that an
// unchanged plan stays the same to the byte; moved is the day it last did. A
// feed's Last-Modified is the later of that day and of its last change.
func Window(today civil.Day) (from, to, moved civil.Day) {
	y, m, _ := today.Date()
	moved = civil.Of(y, m, 1)
	return civil.Of(y, m-time.Month(2), 1), civil.Of(y, m+19, 1) - 1, moved
}
