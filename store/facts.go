package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/level"
)

// The columns of each table that a plan reads, in the order in which the
// functions below take them. The boat's id always comes first.
const (
	boatColumns      = "id, hin, name, make, model, year, kind, length_ft, water, place, berth, sold_on, warranty_until, gone"
	componentColumns = "boat_id, id, kind, label, in_service, expires, made, propulsion, stroke, fuel, cooling, family, extra, duty"
	recordColumns    = "boat_id, day, id, component_id, service, hours, amount, done_by, note"
	readingColumns   = "boat_id, component_id, day, new_meter, hours, read_by"
	followUpColumns  = "boat_id, id, component_id, service, title, due, raised, finding"
	overrideColumns  = "boat_id, component_id, rule, months, hours, skip, by_customer, source"
	bookingColumns   = "boat_id, visit_id, kind, day, minute, over"
	visitColumns     = "boat_id, id, kind, season, open_day, close_day, day, deadline, labour, price, priority, items, week, told_week, last_day, lapsed, missed_day, week_why, week_from"
)

func readBoat(c *cells) schedule.Boat {
	return schedule.Boat{
		ID: c.text(0), HIN: c.text(1), Name: c.text(2), Make: c.text(3), Model: c.text(4),
		Year: int(c.int(5)), Kind: c.text(6), LengthFt: c.real(7), Water: c.text(8), Place: c.text(9), Berth: c.text(10),
		SoldOn: c.day(11), WarrantyUntil: c.day(12), Gone: c.day(13),
	}
}

// readComponent leaves out what a component's attributes take from its boat;
// see [copyBoatAttr].
func readComponent(c *cells) schedule.Component {
	return schedule.Component{
		BoatID: c.text(0), ID: c.text(1), Kind: c.text(2), Label: c.text(3),
		InService: c.day(4), Expires: c.day(5), Made: c.day(6), Duty: int(c.int(13)),
		Attr: schedule.Attr{
			Kind: c.text(2), Propulsion: c.text(7), Stroke: c.text(8), Fuel: c.text(9), Cooling: c.text(10),
			Family: c.text(11), Extra: c.text(12),
		},
	}
}

func copyBoatAttr(part *schedule.Component, b *schedule.Boat) {
	part.Attr.Water, part.Attr.Berth, part.Attr.BoatKind = b.Water, b.Berth, b.Kind
}

func readRecord(c *cells) schedule.Record {
	return schedule.Record{
		BoatID: c.text(0), Day: c.day(1), ID: c.text(2), ComponentID: c.text(3), Service: c.text(4),
		Hours: c.hours(5), HasHours: !c.null(5), Amount: c.cents(6), By: c.text(7), Note: c.text(8),
	}
}

func readReading(c *cells) schedule.Reading {
	return schedule.Reading{
		ComponentID: c.text(1), Day: c.day(2), NewMeter: c.bool(3), Hours: c.hours(4), ReadBy: c.text(5),
	}
}

func readFollowUp(c *cells) schedule.FollowUp {
	return schedule.FollowUp{
		BoatID: c.text(0), ID: c.text(1), ComponentID: c.text(2), Service: c.text(3), Title: c.text(4),
		Due: c.day(5), Raised: c.day(6), Finding: c.text(7),
	}
}

func readOverride(c *cells) schedule.Override {
	return schedule.Override{
		BoatID: c.text(0), ComponentID: c.text(1), Rule: c.text(2), Months: int(c.int(3)), Hours: c.hours(4),
		Skip: c.bool(5), ByCustomer: c.bool(6), Source: c.text(7),
	}
}

func readBooking(c *cells) schedule.Booking {
	return schedule.Booking{
		BoatID: c.text(0), VisitID: c.text(1), Kind: c.text(2), Day: c.day(3), Minute: int(c.int(4)), Over: c.bool(5),
	}
}

// readVisit leaves Booking out; see [attachBookings].
func readVisit(c *cells) schedule.Visit {
	v := schedule.Visit{
		BoatID: c.text(0), ID: c.text(1), Kind: c.text(2), Season: int(c.int(3)),
		Open: c.day(4), Close: c.day(5), Day: c.day(6), Deadline: c.day(7),
		Labour: int(c.int(8)), Price: c.cents(9), Priority: int(c.int(10)), Items: c.lines(11),
		Week: c.week(12), Last: c.day(14), Lapsed: c.bool(15), Missed: c.day(16),
	}
	v.Told = v.Week != 0 && v.Week == c.week(13)
	if why := level.Reason(c.text(17)); why != "" {
		// A reason speaks of one week beside its own: the wished or the earlier one.
		v.WeekWhy = level.Why{Reason: why, Wish: c.week(18), Prior: c.week(18), Deadline: v.Deadline}
	}
	return v
}

// attachBookings points each booked visit at a copy of its booking.
func attachBookings(visits []schedule.Visit, bookings []schedule.Booking) {
	for _, b := range bookings {
		for i := range visits {
			if visits[i].ID == b.VisitID {
				visits[i].Booking = &b
			}
		}
	}
}

// part is one table that belongs to a boat: how it is read and where its rows
// go in the facts.
type part struct {
	columns, table string
	add            func(*schedule.Facts, *cells)
}

// parts lists the tables in the order in which their rows are put into the
// facts; visits come after the bookings that they point at.
func parts() []part {
	return []part{
		{componentColumns, "components", func(f *schedule.Facts, c *cells) {
			f.Components = append(f.Components, readComponent(c))
			copyBoatAttr(&f.Components[len(f.Components)-1], &f.Boat)
		}},
		{recordColumns, "records", func(f *schedule.Facts, c *cells) { f.Records = append(f.Records, readRecord(c)) }},
		{readingColumns, "readings", func(f *schedule.Facts, c *cells) { f.Readings = append(f.Readings, readReading(c)) }},
		{followUpColumns, "follow_ups", func(f *schedule.Facts, c *cells) { f.FollowUps = append(f.FollowUps, readFollowUp(c)) }},
		{overrideColumns, "overrides", func(f *schedule.Facts, c *cells) { f.Overrides = append(f.Overrides, readOverride(c)) }},
		{bookingColumns, "bookings", func(f *schedule.Facts, c *cells) { f.Bookings = append(f.Bookings, readBooking(c)) }},
		{visitColumns, "visits", func(f *schedule.Facts, c *cells) { f.Prior = append(f.Prior, readVisit(c)) }},
	}
}

// Facts returns everything the planner may use about one boat, at one moment.
// Of the place only the name is filled in; its season stands in the shop's
// settings. [ErrNotFound] if there is no such boat.
func (db *DB) Facts(ctx context.Context, boatID string) (schedule.Facts, error) {
	var f schedule.Facts
	err := db.snapshot(ctx, func(tx *sql.Tx) error {
		p := db.read.prepared(tx)
		defer p.Close()
		return loadFacts(ctx, p, boatID, &f)
	})
	if err != nil {
		return schedule.Facts{}, fmt.Errorf("read the facts of boat %q: %w", boatID, err)
	}
	return f, nil
}

// loadFacts reads one boat into f, whose slices are reused.
func loadFacts(ctx context.Context, tx querier, boatID string, f *schedule.Facts) error {
	b, err := one(ctx, tx, readBoat, "SELECT "+boatColumns+" FROM boats WHERE id = ?", boatID)
	if err != nil {
		return err
	}
	resetFacts(f, b)
	for _, p := range parts() {
		_, err := collect(ctx, tx, func(c *cells) struct{} { p.add(f, c); return struct{}{} },
			"SELECT "+p.columns+" FROM "+p.table+" WHERE boat_id = ? ORDER BY 1, 2, 3", boatID)
		if err != nil {
			return fmt.Errorf("%s: %w", p.table, err)
		}
	}
	attachBookings(f.Prior, f.Bookings)
	return nil
}

// resetFacts empties f for the next boat and keeps the memory of its slices.
func resetFacts(f *schedule.Facts, b schedule.Boat) {
	*f = schedule.Facts{
		Boat:       b,
		Place:      schedule.Place{Name: b.Place},
		Components: f.Components[:0],
		Records:    f.Records[:0],
		Readings:   f.Readings[:0],
		FollowUps:  f.FollowUps[:0],
		Overrides:  f.Overrides[:0],
		Bookings:   f.Bookings[:0],
		Prior:      f.Prior[:0],
	}
}

// EachFacts calls fn with the facts of each boat in order of its id, all of
// one moment; ids nil means the whole fleet, and ids that do not exist are
// passed over. The facts and their slices are reused: fn must copy what it
// keeps. Memory does not grow with the fleet. An error of fn ends it. The whole
// fleet is read in a goroutine of its own while fn works on what was read.
func (db *DB) EachFacts(ctx context.Context, ids []string, fn func(*schedule.Facts) error) error {
	if ids == nil {
		return carry(ctx, func(ctx context.Context, out *belt) error {
			return db.snapshot(ctx, func(tx *sql.Tx) error { return mergeFacts(ctx, tx, out) })
		}, fn)
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(ids)))
	return db.snapshot(ctx, func(tx *sql.Tx) error { return db.someFacts(ctx, tx, sorted, fn) })
}

// someFacts reads boat by boat.
func (db *DB) someFacts(ctx context.Context, tx *sql.Tx, ids []string, fn func(*schedule.Facts) error) error {
	p := db.read.prepared(tx)
	defer p.Close()
	var f schedule.Facts
	for _, id := range ids {
		ok, err := found(loadFacts(ctx, p, id, &f))
		if err != nil {
			return fmt.Errorf("read the facts of boat %q: %w", id, err)
		}
		if !ok {
			continue
		}
		if err := fn(&f); err != nil {
			return err
		}
	}
	return nil
}
