package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Absence is a technician's time off, both days included.
type Absence struct {
	ID         int64
	Technician string
	From, To   civil.Day
	Why        string
}

// ClosedDay is a day on which the shop does not work, beside its holidays.
type ClosedDay struct {
	Day civil.Day
	Why string
}

// Absences returns all time off that ends on or after a day, in order.
func (db *Reader) Absences(ctx context.Context, from civil.Day) ([]Absence, error) {
	return absences(ctx, db.Read, from)
}

func absences(ctx context.Context, q kernel.Querier, from civil.Day) ([]Absence, error) {
	all, err := kernel.Collect(ctx, q, readAbsence,
		"SELECT id, technician, from_day, to_day, why FROM absences WHERE to_day >= ? ORDER BY from_day, technician, id", from.String())
	return all, kernel.Wrap(err, "list absences")
}

func readAbsence(c *kernel.Row) Absence {
	return Absence{ID: c.Int(0), Technician: c.Text(1), From: c.Day(2), To: c.Day(3), Why: c.Text(4)}
}

// AddAbsence writes down a technician's time off, once.
func (db *DB) AddAbsence(ctx context.Context, now time.Time, actor string, a Absence) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if a.From == 0 || a.To < a.From {
			return fmt.Errorf("it ends before it begins: %w", ErrRefused)
		}
		r, err := tx.ExecContext(ctx, `INSERT INTO absences (technician, from_day, to_day, why) SELECT ?1, ?2, ?3, ?4
			WHERE NOT EXISTS (SELECT 1 FROM absences WHERE (technician, from_day, to_day, why) = (?1, ?2, ?3, ?4))`,
			a.Technician, a.From.String(), a.To.String(), a.Why)
		if n, err := kernel.Affected(r, err); err != nil || n == 0 {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "add an absence", After: a})
	})
	return kernel.Wrap(err, "absence of %q", a.Technician)
}

// RemoveAbsence takes an absence back.
func (db *DB) RemoveAbsence(ctx context.Context, now time.Time, actor string, id int64) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		old, err := kernel.One(ctx, tx, readAbsence, "DELETE FROM absences WHERE id = ? RETURNING id, technician, from_day, to_day, why", id)
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove an absence", Before: old})
	})
	return kernel.Wrap(err, "remove absence %d", id)
}

// ClosedDays returns the closed days from a day on, in order.
func (db *Reader) ClosedDays(ctx context.Context, from civil.Day) ([]ClosedDay, error) {
	return closedDays(ctx, db.Read, from)
}

func closedDays(ctx context.Context, q kernel.Querier, from civil.Day) ([]ClosedDay, error) {
	all, err := kernel.Collect(ctx, q, func(c *kernel.Row) ClosedDay { return ClosedDay{c.Day(0), c.Text(1)} },
		"SELECT day, why FROM closed_days WHERE day >= ? ORDER BY day", from.String())
	return all, kernel.Wrap(err, "list closed days")
}

// CloseDay closes the shop on a day.
func (db *DB) CloseDay(ctx context.Context, now time.Time, actor string, d ClosedDay) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if d.Day == 0 {
			return fmt.Errorf("it needs a day: %w", ErrRefused)
		}
		r, err := tx.ExecContext(ctx, "INSERT INTO closed_days (day, why) VALUES (?, ?) ON CONFLICT (day) DO UPDATE SET why = excluded.why WHERE why <> excluded.why",
			d.Day.String(), d.Why)
		if n, err := kernel.Affected(r, err); err != nil || n == 0 {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "close a day", After: d})
	})
	return kernel.Wrap(err, "close %s", d.Day)
}

// OpenDay opens the shop again on a day that was closed by hand.
func (db *DB) OpenDay(ctx context.Context, now time.Time, actor string, d civil.Day) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, "DELETE FROM closed_days WHERE day = ?", d.String())
		n, err := kernel.Affected(r, err)
		if err != nil {
			return err
		}
		if n == 0 {
			return ErrNotFound
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "open a day", Before: d})
	})
	return kernel.Wrap(err, "open %s", d)
}

// Pins returns the weeks that the desk has chosen for these visits, or that are kept
// because their customers wish to be asked later, by visit; ids nil means all.
func (db *Reader) Pins(ctx context.Context, visitIDs []string) (map[string]civil.Week, error) {
	type pin struct {
		visit string
		week  civil.Week
	}
	read := func(c *kernel.Row) pin { return pin{c.Text(0), c.Week(1)} }
	var all []pin
	var err error
	if visitIDs == nil {
		all, err = kernel.Collect(ctx, db.Read, read, "SELECT visit_id, week FROM pins")
	} else {
		all, err = kernel.Collect(ctx, db.Read, read, "SELECT visit_id, week FROM pins WHERE visit_id IN (SELECT value FROM json_each(?))", kernel.IDList(visitIDs))
	}
	pins := make(map[string]civil.Week, len(all))
	for _, p := range all {
		pins[p.visit] = p.week
	}
	return pins, kernel.Wrap(err, "read the weeks chosen by hand")
}

// Pin puts a visit into a shop week by hand; no week leaves it to the planner
// again. The next fitting of weeks keeps to it. [ErrStale] if the visit is booked
// for a day.
func (db *DB) Pin(ctx context.Context, now time.Time, actor, visitID string, week civil.Week) error {
	return db.pin(ctx, now, actor, visitID, week, false)
}

// PinLater does so for a customer who wishes to be asked later. A week that the desk
// chose stays the desk's: it is taken over only by another week.
func (db *DB) PinLater(ctx context.Context, now time.Time, actor, visitID string, week civil.Week) error {
	return db.pin(ctx, now, actor, visitID, week, true)
}

func (db *DB) pin(ctx context.Context, now time.Time, actor, visitID string, week civil.Week, byCustomer bool) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		v, err := kernel.One(ctx, tx, func(c *kernel.Row) schedule.Visit { return tables.ReadVisit(c) }, "SELECT "+tables.VisitColumns+" FROM visits WHERE id = ?", visitID)
		if err != nil {
			return err
		}
		if err := stillAs(ctx, tx, visitID, new("")); err != nil {
			return err
		}
		var done sql.Result
		if week == 0 {
			done, err = tx.ExecContext(ctx, "DELETE FROM pins WHERE visit_id = ? AND by_customer >= ?", visitID, kernel.BoolArg(byCustomer))
		} else {
			done, err = tx.ExecContext(ctx, `INSERT INTO pins (visit_id, boat_id, week, by_customer) VALUES (?, ?, ?, ?)
				ON CONFLICT (visit_id) DO UPDATE SET week = excluded.week, by_customer = excluded.by_customer WHERE week <> excluded.week OR NOT excluded.by_customer`,
				visitID, v.BoatID, week.Monday().String(), kernel.BoolArg(byCustomer))
		}
		if n, err := kernel.Affected(done, err); err != nil || n == 0 && byCustomer {
			return err
		}
		e := kernel.Entry{Actor: actor, What: "choose a week", BoatID: v.BoatID, Before: v.Week, After: week}
		return changedFact(ctx, tx, now, e)
	})
	return kernel.Wrap(err, "put visit %q into week %s", visitID, week)
}

// Pinned is a visit that is not booked, and the week that was chosen for it.
type Pinned struct {
	Visit schedule.Visit
	Week  civil.Week
}

// PinnedLast returns the visits of some boats, nil for all, that are not booked and that the
// desk, or a customer who wishes to be asked later, has in the week of their deadline or
// in a later one, in order of deadline.
func (db *Reader) PinnedLast(ctx context.Context, byCustomer bool, boatIDs []string) ([]Pinned, error) {
	// CROSS JOIN has SQLite go through the few pins and not through the visits by their deadline.
	query := "SELECT " + kernel.Column("v", tables.VisitColumns) + ", p.week FROM pins p CROSS JOIN visits v ON v.id = p.visit_id" +
		" WHERE p.by_customer = ? AND p.week > date(v.deadline, '-7 days') AND NOT EXISTS (SELECT 1 FROM bookings k WHERE k.visit_id = v.id)"
	args := []any{kernel.BoolArg(byCustomer)}
	if boatIDs != nil {
		query, args = query+" AND v.boat_id IN (SELECT value FROM json_each(?))", append(args, kernel.IDList(boatIDs))
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Pinned {
		p := Pinned{Visit: tables.ReadVisit(c)}
		p.Week = c.Week(tables.VisitWidth)
		return p
	}, query+" ORDER BY v.deadline, v.id", args...)
	return all, kernel.Wrap(err, "list what is put into the week of its deadline or a later one")
}

// LetGo is a week that was kept for a customer who wished to be asked later, and let
// go because nobody works in it by the deadline that the visit has now.
type LetGo struct {
	Kept     civil.Week
	Deadline civil.Day
	To       civil.Week `json:",omitzero"` // the one that is kept instead; none leaves it to the planner
}

// LetWeekGo lets such a week of a visit go, if it is still kept.
func (db *DB) LetWeekGo(ctx context.Context, now time.Time, actor string, v *schedule.Visit, l LetGo) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		change, args := "DELETE FROM pins", []any(nil)
		if l.To != 0 {
			change, args = "UPDATE pins SET week = ?", []any{l.To.Monday().String()}
		}
		done, err := tx.ExecContext(ctx, change+" WHERE visit_id = ? AND by_customer = 1 AND week = ?", append(args, v.ID, l.Kept.Monday().String())...)
		if n, err := kernel.Affected(done, err); err != nil || n == 0 {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "let a week go", BoatID: v.BoatID, After: l})
	})
	return kernel.Wrap(err, "let the week of visit %q go", v.ID)
}
