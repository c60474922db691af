package schedule

import (
	"strconv"
	"strings"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// Facts are everything the planner may use about one boat. Slices may be in
// any order; the planner sorts what it needs.
type Facts struct {
	Boat       Boat
	Place      Place
	Components []Component // without the hull, which the planner adds itself
	// Retired are the components that are no longer aboard: their history is kept,
	// and nothing of them falls due.
	Retired   []RetiredComponent
	Records   []Record
	Readings  []Reading
	FollowUps []FollowUp
	Overrides []Override
	Bookings  []Booking
	// LastContact is the newest day on which the present owner got the boat or replied
	// about it, none if neither is known.
	LastContact civil.Day
	// Prior are the visits of the plan before, so that a visit keeps its ID
	// when its items change.
	Prior []Visit
}

// Basis names what decided a due day.
type Basis string

// The bases of a due day.
const (
	BasisDate    Basis = "date"    // the months since the last time
	BasisHours   Basis = "hours"   // the forecast day of an hours limit
	BasisSeason  Basis = "season"  // lay-up or fit-out
	BasisExpiry  Basis = "expiry"  // a printed or legal last day
	BasisOnce    Basis = "one-off" // a follow-up after a finding, or a break-in
	BasisEvent   Basis = "event"   // a haul-out, a launch or a strike
	BasisUnknown Basis = "unknown" // no history: looked at on the next visit
	BasisAsk     Basis = "ask"     // a lay-up that nobody did: ask the owner whether it was done; in no visit
	BasisStored  Basis = "stored"  // so many days in storage with us: on a round of the yard, in no visit
	BasisDropped Basis = "dropped" // a fit-out whose summer is half over: in no visit any more
)

// DueItem is one rule's next due day for one component, with the facts that
// its reason is made from. It is derived, never edited.
type DueItem struct {
	BoatID      string
	ComponentID string // the hull's is the boat's
	Rule        string // rule code; a follow-up has "follow-up:" and its ID
	Service     string
	// Season is the year of a season item's occurrence: the lay-up of autumn
	// 2027 and the fit-out of spring 2027 are both 2027. 0 for other items.
	Season int

	Due   civil.Day // the day by which it should be done
	Open  civil.Day // first day on which doing it is sensible
	Close civil.Day // last day that is still acceptable
	Basis Basis

	// Facts behind the day. None or zero where they do not apply.
	LastDay      civil.Day // last time it was done
	LastBy       string    // by whom, one of Doers
	LastVia      string    // the covering service if it was done as part of one
	LastHours    Hours     // meter then
	HasLastHours bool
	StartsFrom   string    // without a last time: "in service" or "sold"; "replaced" for a part whose new date is not known; "before the sale" if it fell due on ByDate, before we sold the boat; "haul-out", "launch" or "strike" for what that event asks for, of ByDate or of a coming season visit; or ""
	Months       int       // the interval used, after overrides and duty
	Hours        Hours     // the interval used
	ByDate       civil.Day // due by the calendar
	ByHours      civil.Day // due by hours at the planning percentile
	HoursMedian  civil.Day // day reached in half of all cases
	HoursLate    civil.Day // day reached in three of four cases
	HoursAt      Hours     // the meter figure that is the limit
	Duty         int       // percent; 0 or 100 is normal
	Overridden   string    // the source of a changed figure, "" if none
	ByCustomer   bool      // the customer does this himself
	InWinter     bool      // the due day lies in the boat's winter
	MissedLast   bool      // season items: the season before has no record, though the boat was in care

	Labour  int    // minutes
	Price   Cents  // list price
	VisitID string // the visit that carries it, "" beyond the horizon
	// CoveredBy is the service of the same visit that includes this one, which
	// then costs no time or money of its own; "" if none.
	CoveredBy string
}

// Key identifies the item and its occurrence within its boat: the component,
// the rule, and what the occurrence hangs on (the season's year, the last time
// it was done, the printed day, or the day of the event). It stays the same from plan to plan until
// the work is recorded.
func (it *DueItem) Key() string {
	occurrence := "first"
	switch {
	case it.Season != 0:
		occurrence = strconv.Itoa(it.Season)
	case it.Basis == BasisExpiry, it.Basis == BasisEvent:
		occurrence = it.ByDate.String()
	case it.LastDay != 0:
		occurrence = it.LastDay.String()
	}
	return it.ComponentID + "/" + it.Rule + "@" + occurrence
}

// The kinds of visit.
const (
	LayUp  = "lay-up"
	FitOut = "fit-out"
	Extra  = "extra"
	Winter = "winter" // work on a boat in our storage between the two
)

// ParseVisitID returns the boat and the kind of visit that an id of [Visit] names; "" for
// one that names none.
func ParseVisitID(id string) (boat, kind string) {
	for _, kind := range []string{LayUp, FitOut, Extra, Winter} {
		if i := strings.LastIndex(id, "."+kind+"."); i >= 0 {
			return id[:i], kind
		}
	}
	return "", ""
}

// Visit is the boat coming in once.
type Visit struct {
	ID     string // "BOAT.lay-up.2027", or "BOAT.extra." and the key of its first item
	BoatID string
	Kind   string // LayUp, FitOut, Extra or Winter
	Season int    // year of a season visit, 0 for an extra one
	// The visit must fall into Open..Close for every item to be in its window.
	// Where that is impossible (an item is already past its window) Close is
	// the first day possible.
	Open, Close civil.Day
	Day         civil.Day // within the window: the day that wastes least
	Deadline    civil.Day // Close, or for a lay-up the last day before the freeze
	// Last is the last day on which the visit makes sense even if it is late:
	// after it the boat is laid up. None for a visit that never comes too late.
	Last civil.Day
	// Lapsed: nothing is known of the boat since the winterization deadline before
	// the last. The owner hears of it once a year, and the visit takes no shop hours
	// until booked.
	Lapsed   bool
	Labour   int // minutes; a job that another one covers costs nothing extra
	Yard     int // minutes of the yard crew
	Lifts    int // how often the lift moves the boat
	Price    Cents
	Priority int      // higher goes first when weeks are short
	Items    []string // keys of the items it carries; none of a booked visit of which nothing is left to do

	// Set when the visit is fitted into the shop's weeks.
	Week    civil.Week // pencilled week, none if it did not fit or is booked
	WeekWhy level.Why  // why this week, or none; no reason if that was never said
	Booking *Booking   // nil while pencilled
	Told    bool       // a customer was already told about Week
	// Missed is the booked day that passed without a record and no longer holds
	// the visit; none if there was none, or once another day is booked.
	Missed civil.Day
}

// Needs is what the visit takes of a week.
func (v *Visit) Needs() level.Amounts {
	return level.Amounts{level.Labor: v.Labour, level.Yard: v.Yard, level.Lifts: v.Lifts}
}

// Booked reports whether customer or desk has fixed the day.
func (v *Visit) Booked() bool { return v.Booking != nil }

// NothingLeft reports whether the visit stands in the plan only because its day is booked:
// its work was done before or is no longer planned. Somebody is to ask the customer.
func (v *Visit) NothingLeft() bool { return v.Booking != nil && len(v.Items) == 0 }

// DayPassed returns the booked day of a visit that is over on a day while the
// work is still in the plan, whether or not that booking still holds the visit;
// none if no such day has passed.
func (v *Visit) DayPassed(today civil.Day) civil.Day {
	switch {
	case v.Booking == nil:
		return v.Missed
	case v.Booking.Day < today:
		return v.Booking.Day
	}
	return 0
}

// BoatPlan is the derived plan of one boat.
type BoatPlan struct {
	Items    []DueItem // in order of due day, then key
	Visits   []Visit   // in order of day, then ID
	Problems []string  // facts the planner could not use, in words
}
