package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/level"
	"bellbuoy/store/internal/kernel"
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

func readBoat(c *kernel.Row) schedule.Boat {
	return schedule.Boat{
		ID: c.Text(0), HIN: c.Text(1), Name: c.Text(2), Make: c.Text(3), Model: c.Text(4),
		Year: int(c.Int(5)), Kind: c.Text(6), LengthFt: c.Real(7), Water: c.Text(8), Place: c.Text(9), Berth: c.Text(10),
		SoldOn: c.Day(11), WarrantyUntil: c.Day(12), Gone: c.Day(13),
	}
}

// readComponent leaves out what a component's attributes take from its boat;
// see [copyBoatAttr].
func readComponent(c *kernel.Row) schedule.Component {
	return schedule.Component{
		BoatID: c.Text(0), ID: c.Text(1), Kind: c.Text(2), Label: c.Text(3),
		InService: c.Day(4), Expires: c.Day(5), Made: c.Day(6), Duty: int(c.Int(13)),
		Attr: schedule.Attr{
			Kind: c.Text(2), Propulsion: c.Text(7), Stroke: c.Text(8), Fuel: c.Text(9), Cooling: c.Text(10),
			Family: c.Text(11), Extra: c.Text(12),
		},
	}
}

func copyBoatAttr(part *schedule.Component, b *schedule.Boat) {
	part.Attr.Water, part.Attr.Berth, part.Attr.BoatKind = b.Water, b.Berth, b.Kind
}

func readRecord(c *kernel.Row) schedule.Record {
	return schedule.Record{
		BoatID: c.Text(0), Day: c.Day(1), ID: c.Text(2), ComponentID: c.Text(3), Service: c.Text(4),
		Hours: c.Hours(5), HasHours: !c.Null(5), Amount: c.Cents(6), By: c.Text(7), Note: c.Text(8),
	}
}

func readReading(c *kernel.Row) schedule.Reading {
	return schedule.Reading{
		ComponentID: c.Text(1), Day: c.Day(2), NewMeter: c.Bool(3), Hours: c.Hours(4), ReadBy: c.Text(5),
	}
}

func readFollowUp(c *kernel.Row) schedule.FollowUp {
	return schedule.FollowUp{
		BoatID: c.Text(0), ID: c.Text(1), ComponentID: c.Text(2), Service: c.Text(3), Title: c.Text(4),
		Due: c.Day(5), Raised: c.Day(6), Finding: c.Text(7),
	}
}

func readOverride(c *kernel.Row) schedule.Override {
	return schedule.Override{
		BoatID: c.Text(0), ComponentID: c.Text(1), Rule: c.Text(2), Months: int(c.Int(3)), Hours: c.Hours(4),
		Skip: c.Bool(5), ByCustomer: c.Bool(6), Source: c.Text(7),
	}
}

func readBooking(c *kernel.Row) schedule.Booking {
	return schedule.Booking{
		BoatID: c.Text(0), VisitID: c.Text(1), Kind: c.Text(2), Day: c.Day(3), Minute: int(c.Int(4)), Over: c.Bool(5),
	}
}

// readVisit leaves Booking out; see [attachBookings].
func readVisit(c *kernel.Row) schedule.Visit {
	v := schedule.Visit{
		BoatID: c.Text(0), ID: c.Text(1), Kind: c.Text(2), Season: int(c.Int(3)),
		Open: c.Day(4), Close: c.Day(5), Day: c.Day(6), Deadline: c.Day(7),
		Labour: int(c.Int(8)), Price: c.Cents(9), Priority: int(c.Int(10)), Items: c.Lines(11),
		Week: c.Week(12), Last: c.Day(14), Lapsed: c.Bool(15), Missed: c.Day(16),
	}
	v.Told = v.Week != 0 && v.Week == c.Week(13)
	if why := level.Reason(c.Text(17)); why != "" {
		// A reason speaks of one week beside its own: the wished or the earlier one.
		v.WeekWhy = level.Why{Reason: why, Wish: c.Week(18), Prior: c.Week(18), Deadline: v.Deadline}
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
	add            func(*schedule.Facts, *kernel.Row)
}

// parts lists the tables in the order in which their rows are put into the
// facts; visits come after the bookings that they point at.
func parts() []part {
	return []part{
		{componentColumns, "components", func(f *schedule.Facts, c *kernel.Row) {
			f.Components = append(f.Components, readComponent(c))
			copyBoatAttr(&f.Components[len(f.Components)-1], &f.Boat)
		}},
		{recordColumns, "records", func(f *schedule.Facts, c *kernel.Row) { f.Records = append(f.Records, readRecord(c)) }},
		{readingColumns, "readings", func(f *schedule.Facts, c *kernel.Row) { f.Readings = append(f.Readings, readReading(c)) }},
		{followUpColumns, "follow_ups", func(f *schedule.Facts, c *kernel.Row) { f.FollowUps = append(f.FollowUps, readFollowUp(c)) }},
		{overrideColumns, "overrides", func(f *schedule.Facts, c *kernel.Row) { f.Overrides = append(f.Overrides, readOverride(c)) }},
		{bookingColumns, "bookings", func(f *schedule.Facts, c *kernel.Row) { f.Bookings = append(f.Bookings, readBooking(c)) }},
		{visitColumns, "visits", func(f *schedule.Facts, c *kernel.Row) { f.Prior = append(f.Prior, readVisit(c)) }},
	}
}

// Facts returns everything the planner may use about one boat, at one moment.
// Of the place only the name is filled in; its season stands in the shop's
// settings. [ErrNotFound] if there is no such boat.
func (db *DB) Facts(ctx context.Context, boatID string) (schedule.Facts, error) {
	var f schedule.Facts
	err := db.Snapshot(ctx, func(tx *sql.Tx) error {
		p := db.Read.Prepared(tx)
		defer p.Close()
		return loadFacts(ctx, p, boatID, &f)
	})
	if err != nil {
		return schedule.Facts{}, fmt.Errorf("read the facts of boat %q: %w", boatID, err)
	}
	return f, nil
}

// loadFacts reads one boat into f, whose slices are reused.
func loadFacts(ctx context.Context, tx kernel.Querier, boatID string, f *schedule.Facts) error {
	b, err := kernel.One(ctx, tx, readBoat, "SELECT "+boatColumns+" FROM boats WHERE id = ?", boatID)
	if err != nil {
		return err
	}
	resetFacts(f, b)
	for _, p := range parts() {
		_, err := kernel.Collect(ctx, tx, func(c *kernel.Row) struct{} { p.add(f, c); return struct{}{} },
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
		return kernel.Pipe(ctx, func(ctx context.Context, out *kernel.Pipeline) error {
			return db.Snapshot(ctx, func(tx *sql.Tx) error { return mergeFacts(ctx, tx, out) })
		}, fn)
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(ids)))
	return db.Snapshot(ctx, func(tx *sql.Tx) error { return db.someFacts(ctx, tx, sorted, fn) })
}

// someFacts reads boat by boat.
func (db *DB) someFacts(ctx context.Context, tx *sql.Tx, ids []string, fn func(*schedule.Facts) error) error {
	p := db.Read.Prepared(tx)
	defer p.Close()
	var f schedule.Facts
	for _, id := range ids {
		ok, err := kernel.Found(loadFacts(ctx, p, id, &f))
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
