package level

import (
	"fmt"

	"bellbuoy/schedule/civil"
)

// Reason names what decided the week of a job.
type Reason string

// The reasons. The first group is in time, the second is not.
const (
	Kept      Reason = "kept"       // the week it had before
	Wished    Reason = "wished"     // the week that wastes least
	Nearest   Reason = "nearest"    // near the wished week, which is full, closed or too late
	Soonest   Reason = "soonest"    // it has no wish: an early week with hours left
	NewWindow Reason = "new-window" // its earlier week is no longer possible for it
	LostHours Reason = "lost-hours" // its earlier week cannot hold it any more
	MadeRoom  Reason = "made-room"  // it moved so that another job could be in time
	Evened    Reason = "evened"     // it moved because its earlier week was too full

	NoHours   Reason = "no-hours"    // no hours left by its deadline
	Overdue   Reason = "overdue"     // its deadline was over before it could start
	Closed    Reason = "closed"      // the shop is closed in all of its weeks
	TooLong   Reason = "too-long"    // longer than any week that it could go to
	OutOfSpan Reason = "out-of-span" // its weeks lie beyond those planned
)

// Why explains a placement from the facts that decided it.
type Why struct {
	Reason   Reason
	Wish     civil.Week // 0 for none
	Prior    civil.Week // 0 for none
	Deadline civil.Week
}

// String says the reason in one plain sentence, without the week it explains.
func (w Why) String() string {
	switch w.Reason {
	case Kept:
		return "It stays in the week it had."
	case Wished:
		return "This is the week that wastes least."
	case Nearest:
		return fmt.Sprintf("Week %s would be best but is full or closed; this is near to it.", w.Wish)
	case Soonest:
		return "This is an early week with hours left."
	case NewWindow:
		return fmt.Sprintf("Week %s, which it had, is no longer possible for it.", w.Prior)
	case LostHours:
		return fmt.Sprintf("Week %s, which it had, has too few hours now.", w.Prior)
	case MadeRoom:
		return fmt.Sprintf("It left week %s so that another visit can be in time.", w.Prior)
	case Evened:
		return fmt.Sprintf("It left week %s, which was much fuller than others.", w.Prior)
	case NoHours:
		return fmt.Sprintf("The shop has no hours left for it by week %s.", w.Deadline)
	case Overdue:
		return "Its deadline is over; it goes into the first week with hours left."
	case Closed:
		return fmt.Sprintf("The shop is closed in every week that it could come by week %s.", w.Deadline)
	case TooLong:
		return "It needs more hours than any week that it could go to has."
	case OutOfSpan:
		return "Its weeks lie beyond those that were planned."
	}
	return ""
}
