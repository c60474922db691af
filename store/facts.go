package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

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

// boatTable is one table that belongs to a boat: how it is read and where its rows
// go in the facts.
type boatTable struct {
	columns, table string
	add            func(*schedule.Facts, *kernel.Row)
}

// boatTables lists the tables in the order in which their rows are put into the
// facts; visits come after the bookings that they point at.
func boatTables() []boatTable {
	return []boatTable{
		{tables.ComponentColumns + ", retired", "components", func(f *schedule.Facts, c *kernel.Row) {
			p := tables.ReadComponent(c)
			tables.CopyBoatAttr(&p, &f.Boat)
			if c.Null(tables.ComponentWidth) {
				f.Components = append(f.Components, p)
			} else {
				f.Retired = append(f.Retired, schedule.RetiredComponent{Component: p, On: c.Day(tables.ComponentWidth)})
			}
		}},
		{tables.RecordColumns, "records", func(f *schedule.Facts, c *kernel.Row) { f.Records = append(f.Records, tables.ReadRecord(c)) }},
		{tables.ReadingColumns, "readings", func(f *schedule.Facts, c *kernel.Row) { f.Readings = append(f.Readings, tables.ReadReading(c)) }},
		{tables.FollowUpColumns, "follow_ups", func(f *schedule.Facts, c *kernel.Row) { f.FollowUps = append(f.FollowUps, tables.ReadFollowUp(c)) }},
		{tables.OverrideColumns, "overrides", func(f *schedule.Facts, c *kernel.Row) { f.Overrides = append(f.Overrides, tables.ReadOverride(c)) }},
		{tables.BookingColumns, "bookings", func(f *schedule.Facts, c *kernel.Row) { f.Bookings = append(f.Bookings, tables.ReadBooking(c)) }},
		{"boat_id, seq, from_day, to_day", "ownerships", func(f *schedule.Facts, c *kernel.Row) {
			if c.Null(3) {
				f.LastContact = max(f.LastContact, c.Day(2))
			}
		}},
		{"boat_id, id, at, undone_at", "answers", func(f *schedule.Facts, c *kernel.Row) {
			if c.Null(3) {
				f.LastContact = max(f.LastContact, civil.FromTime(c.Instant(2))) // a day more or less is no matter
			}
		}},
		{tables.VisitColumns, "visits", func(f *schedule.Facts, c *kernel.Row) { f.Prior = append(f.Prior, tables.ReadVisit(c)) }},
	}
}

// Facts returns everything the planner may use about one boat, at one moment.
// Of the place only the name is filled in; its season stands in the shop's
// settings. [ErrNotFound] if there is no such boat.
func (db *Reader) Facts(ctx context.Context, boatID string) (schedule.Facts, error) {
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
	b, err := kernel.One(ctx, tx, tables.ReadBoat, "SELECT "+tables.BoatColumns+" FROM boats WHERE id = ?", boatID)
	if err != nil {
		return err
	}
	resetFacts(f, b)
	for _, p := range boatTables() {
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
		Retired:    f.Retired[:0],
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
func (db *Reader) EachFacts(ctx context.Context, ids []string, fn func(*schedule.Facts) error) error {
	if ids == nil {
		return kernel.Pipe(ctx, func(ctx context.Context, out *kernel.Pipeline[schedule.Facts]) error {
			return db.Snapshot(ctx, func(tx *sql.Tx) error { return mergeFacts(ctx, tx, out) })
		}, fn)
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(ids)))
	return db.Snapshot(ctx, func(tx *sql.Tx) error { return db.someFacts(ctx, tx, sorted, fn) })
}

// someFacts reads boat by boat.
func (db *Reader) someFacts(ctx context.Context, tx *sql.Tx, ids []string, fn func(*schedule.Facts) error) error {
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
