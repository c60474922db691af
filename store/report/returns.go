package report

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Tenure is a customer having a boat, with what the owner's lists say of both.
type Tenure struct {
	Boat     schedule.Boat
	Customer schedule.Customer // id, name and telephone only
	From, To civil.Day         // To is the first day without the boat
}

// Tenures returns everybody who has or had a boat, in order of boat and time.
func Tenures(ctx context.Context, db *store.Reader) ([]Tenure, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Tenure {
		t := Tenure{
			Customer: schedule.Customer{ID: c.Text(0), Name: c.Text(1), Phone: c.Text(2)},
			From:     c.Day(3), To: c.Day(4),
		}
		c.Skip(5)
		t.Boat = tables.ReadBoat(c)
		return t
	}, "SELECT o.customer_id, c.name, c.phone, o.from_day, o.to_day, "+kernel.Column("b", tables.BoatColumns)+
		` FROM ownerships o JOIN boats b ON b.id = o.boat_id JOIN customers c ON c.id = o.customer_id ORDER BY o.boat_id, o.seq`)
	return all, kernel.Wrap(err, "list who had which boat")
}

// ShopDay is a day on which the shop worked on a boat. Lines and Paid are of
// what cost something; both are 0 for a day that cost nothing.
type ShopDay struct {
	BoatID string
	Day    civil.Day
	Lines  int
	Paid   schedule.Cents
}

// ShopDays returns them all, in order of day and boat, as the index has them; of some
// boats only, where boats is not nil.
func ShopDays(ctx context.Context, db *store.Reader, boats []string) ([]ShopDay, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) ShopDay {
		return ShopDay{BoatID: c.Text(0), Day: c.Day(1), Lines: int(c.Int(2)), Paid: c.Cents(3)}
	}, "SELECT boat_id, day, sum(amount > 0), sum(max(amount, 0)) FROM records WHERE "+amongBoats(boats)+" AND done_by = 'shop' GROUP BY day, boat_id ORDER BY day, boat_id", kernel.IDList(boats))
	return all, kernel.Wrap(err, "list the days of work")
}

// amongBoats selects by a list of boats that is the first argument. For all of them it
// leaves the choice of the index to the days.
func amongBoats(boats []string) string {
	if boats == nil {
		return "?1 IS NULL"
	}
	return "boat_id IN (SELECT value FROM json_each(?1))"
}

// FirstRecordDay is the day of the oldest record of anybody; none if there is
// no record.
func FirstRecordDay(ctx context.Context, db *store.Reader) (civil.Day, error) {
	d, err := kernel.One(ctx, db.Read, func(c *kernel.Row) civil.Day { return c.Day(0) }, "SELECT min(day) FROM records")
	return d, kernel.Wrap(err, "find the oldest record")
}

// ShopLine is one line of the shop's work.
type ShopLine struct {
	BoatID, ComponentID string
	Day                 civil.Day
	Service             string
	Amount              schedule.Cents
	Note                string
}

// ShopLines returns the shop's lines of work from one day to another, both
// included, in order of day and boat; service and boat "" mean any.
func ShopLines(ctx context.Context, db *store.Reader, from, to civil.Day, service, boat string) ([]ShopLine, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) ShopLine {
		return ShopLine{BoatID: c.Text(0), ComponentID: c.Text(1), Day: c.Day(2), Service: c.Text(3), Amount: c.Cents(4), Note: c.Text(5)}
	}, `SELECT boat_id, component_id, day, service, amount, note FROM records
		WHERE day BETWEEN ?1 AND ?2 AND done_by = 'shop' AND (?3 = '' OR service = ?3) AND (?4 = '' OR boat_id = ?4) ORDER BY day, boat_id, id`,
		from.String(), kernel.LastDay(to), service, boat)
	return all, kernel.Wrap(err, "list the work from %s to %s", from, to)
}

// WorkLine is a line of the shop's work without what it cost.
type WorkLine struct {
	BoatID  string
	Day     civil.Day
	Service string
}

// WorkLines returns the shop's lines of work from one day to another, both
// included, in order of day and boat; of some boats only, where boats is not nil.
func WorkLines(ctx context.Context, db *store.Reader, from, to civil.Day, boats []string) ([]WorkLine, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) WorkLine {
		return WorkLine{Day: c.Day(0), BoatID: c.Text(1), Service: c.Text(2)}
	}, "SELECT day, boat_id, service FROM records WHERE "+amongBoats(boats)+" AND day BETWEEN ?2 AND ?3 AND done_by = 'shop' ORDER BY day, boat_id, service, id",
		kernel.IDList(boats), from.String(), kernel.LastDay(to))
	return all, kernel.Wrap(err, "list the work from %s to %s", from, to)
}

// ServiceDay is paid work on a boat of one day, line by line.
type ServiceDay struct {
	BoatID string
	Day    civil.Day
	Lines  []PaidLine
}

// PaidLine is a service and what it brought.
type PaidLine struct {
	Service string
	Paid    schedule.Cents
}

// ServiceDays returns paid work from one day to another, both included, in order of day
// and boat; of some boats only, where boats is not nil. The lines of a day come in one
// cell, which takes half the time of a row for each.
func ServiceDays(ctx context.Context, db *store.Reader, from, to civil.Day, boats []string) ([]ServiceDay, error) {
	var broken error
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) ServiceDay {
		d := ServiceDay{BoatID: c.Text(0), Day: c.Day(1)}
		for line := range strings.SplitSeq(c.Text(2), "\n") {
			amount, service, _ := strings.Cut(line, " ")
			paid, err := strconv.ParseInt(amount, 10, 64)
			broken = cmp.Or(broken, err)
			d.Lines = append(d.Lines, PaidLine{service, schedule.Cents(paid)})
		}
		return d
	}, `SELECT boat_id, day, group_concat(amount || ' ' || replace(service, char(10), ' '), char(10)) FROM records
		WHERE `+amongBoats(boats)+` AND day BETWEEN ?2 AND ?3 AND done_by = 'shop' AND amount > 0 GROUP BY day, boat_id ORDER BY day, boat_id`,
		kernel.IDList(boats), from.String(), kernel.LastDay(to))
	return all, kernel.Wrap(errors.Join(err, broken), "read paid work from %s to %s", from, to)
}

// DoneDay is a day on which somebody did a service on a boat.
type DoneDay struct {
	BoatID string
	Day    civil.Day
	By     string // one of [schedule.Doers]
}

// DoneDays returns who did a service on which day, from one day to another.
func DoneDays(ctx context.Context, db *store.Reader, service string, from, to civil.Day) ([]DoneDay, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) DoneDay {
		return DoneDay{BoatID: c.Text(0), Day: c.Day(1), By: c.Text(2)}
	}, "SELECT DISTINCT boat_id, day, done_by FROM records WHERE day BETWEEN ? AND ? AND service = ? ORDER BY day, boat_id",
		from.String(), kernel.LastDay(to), service)
	return all, kernel.Wrap(err, "list when %q was done", service)
}

// DoneDaysOf returns when the shop did a service on some boats, in order of boat
// and day.
func DoneDaysOf(ctx context.Context, db *store.Reader, service string, boats []string) ([]DoneDay, error) {
	ids, err := json.Marshal(boats)
	if err != nil {
		return nil, fmt.Errorf("list when %q was done: %w", service, err)
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) DoneDay {
		return DoneDay{BoatID: c.Text(0), Day: c.Day(1), By: schedule.ByShop}
	}, `SELECT DISTINCT boat_id, day FROM records WHERE boat_id IN (SELECT value FROM json_each(?)) AND service = ? AND done_by = 'shop'
		ORDER BY boat_id, day`, string(ids), service)
	return all, kernel.Wrap(err, "list when %q was done", service)
}

// AheadVisit is a planned visit as the owner's figures need it.
type AheadVisit struct {
	BoatID, ID, Kind string
	Season           int
	Day              civil.Day // booked, else the pencilled week's Monday, else planned
	Booked           bool
	Pencilled        bool // stands in a shop week and is not booked
	Labour           int  // minutes
	Price            schedule.Cents
}

// AheadVisits returns every planned visit, in order of boat.
func AheadVisits(ctx context.Context, db *store.Reader) ([]AheadVisit, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) AheadVisit {
		v := AheadVisit{BoatID: c.Text(0), ID: c.Text(1), Kind: c.Text(2), Season: int(c.Int(3)), Labour: int(c.Int(4)), Price: c.Cents(5), Booked: !c.Null(6), Pencilled: c.Null(6) && !c.Null(7)}
		for i := 6; i <= 8 && v.Day == 0; i++ {
			v.Day = c.Day(i)
		}
		return v
	}, `SELECT v.boat_id, v.id, v.kind, v.season, v.labour, v.price, k.day, v.week, v.day
		FROM visits v LEFT JOIN bookings k ON k.boat_id = v.boat_id AND k.visit_id = v.id ORDER BY v.boat_id, v.id`)
	return all, kernel.Wrap(err, "list the visits ahead")
}

// JobAhead is one job of a planned visit that the shop does. Of the visit it
// knows what it is and when it stands.
type JobAhead struct {
	Visit schedule.Visit
	Rule  string
}

// Day is the booked day, or the Monday of the pencilled week.
func (j *JobAhead) Day() civil.Day {
	if j.Visit.Booked() {
		return j.Visit.Booking.Day
	}
	return j.Visit.Week.Monday()
}

// JobsAhead returns the jobs of the visits that stand in the shop weeks from
// one to another, both included, in order of visit and job. What is only looked
// at for lack of a history, and what customers see to themselves, is not in it.
func JobsAhead(ctx context.Context, db *store.Reader, from, to civil.Week) ([]JobAhead, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) JobAhead {
		j := JobAhead{Visit: schedule.Visit{BoatID: c.Text(0), ID: c.Text(1), Kind: c.Text(2), Season: int(c.Int(3)), Day: c.Day(4), Week: c.Week(5)}, Rule: c.Text(6)}
		c.Skip(7)
		if !c.Null(0) {
			b := tables.ReadBooking(c)
			j.Visit.Booking = &b
		}
		return j
	}, `WITH standing (boat_id, id) AS (
			SELECT boat_id, id FROM visits WHERE week BETWEEN ?1 AND ?2 AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = visits.id)
			UNION ALL SELECT boat_id, visit_id FROM bookings WHERE day BETWEEN ?1 AND ?2)
		SELECT v.boat_id, v.id, v.kind, v.season, v.day, v.week, d.rule, `+kernel.Column("k", tables.BookingColumns)+`
		FROM standing s CROSS JOIN visits v ON v.boat_id = s.boat_id AND v.id = s.id
		LEFT JOIN bookings k ON k.boat_id = v.boat_id AND k.visit_id = v.id
		CROSS JOIN due_items d ON d.boat_id = v.boat_id AND d.visit_id = v.id
		WHERE d.by_customer = 0 AND d.basis <> ?3 ORDER BY d.visit_id, d.key`,
		from.Monday().String(), to.Sunday().String(), string(schedule.BasisUnknown))
	return all, kernel.Wrap(err, "list the jobs of the coming weeks")
}

// LapsedBoats returns the boats whose plan counts them as lapsed.
func LapsedBoats(ctx context.Context, db *store.Reader) (map[string]bool, error) {
	all, err := kernel.Collect(ctx, db.Read, kernel.FirstText, "SELECT DISTINCT boat_id FROM visits WHERE lapsed = 1")
	set := make(map[string]bool, len(all))
	for _, id := range all {
		set[id] = true
	}
	return set, kernel.Wrap(err, "list the lapsed boats")
}

// Contact is the last time that a customer was told or said something.
type Contact struct {
	CustomerID string
	Way        string // "mail", "call" or "answer"
	Day        civil.Day
}

// LastContacts returns each customer's last contact of each way. Days of calls
// and answers are by the clock of the zone.
func LastContacts(ctx context.Context, db *store.Reader, zone *time.Location) ([]Contact, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Contact {
		k := Contact{CustomerID: c.Text(0), Way: c.Text(1), Day: c.Day(2)}
		if k.Day == 0 {
			k.Day = civil.FromTime(c.Instant(3).In(zone))
		}
		return k
	}, `SELECT customer_id, 'email', max(on_day), NULL FROM heard GROUP BY customer_id
		UNION ALL SELECT customer_id, 'call', NULL, max(at) FROM calls GROUP BY customer_id
		UNION ALL SELECT customer_id, 'answer', NULL, max(at) FROM answers WHERE undone_at IS NULL GROUP BY customer_id`)
	return all, kernel.Wrap(err, "list last contacts")
}
