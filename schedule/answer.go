package schedule

import (
	"time"

	"bellbuoy/schedule/civil"
)

// AnswerKind is what a customer answered on their page.
type AnswerKind string

// The kinds of answer.
const (
	AnswerTake      AnswerKind = "take"      // takes a day for a visit, which is booked by it
	AnswerCancel    AnswerKind = "cancel"    // a booked day no longer suits
	AnswerLater     AnswerKind = "later"     // is to be asked again from a day on
	AnswerDecline   AnswerKind = "decline"   // does not want the visit
	AnswerCall      AnswerKind = "call"      // wants to be rung
	AnswerElsewhere AnswerKind = "elsewhere" // the work was done elsewhere
	AnswerHours     AnswerKind = "hours"     // read an hour meter
	AnswerSold      AnswerKind = "sold"      // no longer has the boat
	AnswerMails     AnswerKind = "mails"     // chose which mails to get
)

// Answer is what a customer said on their page about a visit, a boat, or
// themselves, and did not take back.
type Answer struct {
	ID         int64
	CustomerID string
	BoatID     string // "" where it is not about one boat
	VisitID    string // "" where it is not about one visit
	Kind       AnswerKind
	At         time.Time
	Note       string    // in the customer's own words
	Until      civil.Day // AnswerLater: ask again from this day on
	Booked     string    // AnswerTake: the booking made by it, as [Booking.When] gives it
	Seen       bool      // somebody of the shop saw to it
	Called     bool      // AnswerCall: a call to the customer was noted since, whatever came of it
}

// Mutes reports whether reminders of a visit are to rest on a day because of
// the answer. Whoever says no is not asked again about that visit; whoever
// waits for a call hears by telephone until somebody has tried; a boat that was sold is not spoken of to
// the one who sold it. What an answer does to the facts (a booking, a record)
// needs no muting: the plan then says so itself.
func (a *Answer) Mutes(v *Visit, today civil.Day) bool {
	switch a.Kind {
	case AnswerSold:
		return !a.Seen && a.BoatID == v.BoatID
	case AnswerDecline:
		return a.VisitID == v.ID
	case AnswerLater:
		return a.VisitID == v.ID && today < a.Until
	case AnswerCall:
		return !a.Seen && !a.Called && (a.VisitID == v.ID || a.VisitID == "" && (a.BoatID == "" || a.BoatID == v.BoatID))
	}
	return false
}
