package tables

import (
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// WithOwner joins the present owner of boat b.
const WithOwner = ` LEFT JOIN ownerships o ON o.boat_id = b.id AND o.to_day IS NULL LEFT JOIN customers c ON c.id = o.customer_id`

// How many columns the joined parts have.
var (
	ComponentWidth = width(ComponentColumns)
	BoatWidth      = width(BoatColumns)
	CustomerWidth  = width(CustomerColumns)
	VisitWidth     = width(VisitColumns)
	BookingWidth   = width(BookingColumns)
)

func width(columns string) int { return strings.Count(columns, ",") + 1 }

// JoinKey makes the key of a row in a list: a day and up to two ids, one a line.
func JoinKey(d civil.Day, a, b string) string { return d.String() + "\n" + a + "\n" + b }

// SplitKey takes apart what [JoinKey] made.
func SplitKey(s string) (day, a, b string) {
	day, rest, _ := strings.Cut(s, "\n")
	a, b, _ = strings.Cut(rest, "\n")
	return day, a, b
}

// ReadVisitOf reads a visit with its boat, its owner and its booking, if it has one:
// the columns of visits, boats, customers and bookings, in this order. The row
// then stands behind them.
func ReadVisitOf(c *kernel.Row) (v schedule.Visit, b schedule.Boat, owner schedule.Customer) {
	v = ReadVisit(c)
	c.Skip(VisitWidth)
	b = ReadBoat(c)
	c.Skip(BoatWidth)
	owner = ReadCustomer(c)
	c.Skip(CustomerWidth)
	if !c.Null(0) {
		booking := ReadBooking(c)
		v.Booking = &booking
	}
	c.Skip(BookingWidth)
	return v, b, owner
}
