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

// What somebody changes on a form. The form counts once, as with
// [DB.RecordWork], and only while what they saw still stands: [ErrStale]
// otherwise, and nothing is written.

// ChangeCustomer changes a customer who was as they saw them.
func (db *DB) ChangeCustomer(ctx context.Context, now time.Time, actor, form string, was, c schedule.Customer) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		on, err := tables.Customer(ctx, tx, c.ID)
		if err == nil && on != was {
			err = ErrStale
		}
		if err != nil {
			return err
		}
		if c.Name == "" {
			return fmt.Errorf("a customer needs a name: %w", ErrRefused)
		}
		return SaveCustomer(ctx, tx, now, actor, c)
	})
	return kernel.Wrap(err, "change customer %q", c.ID)
}

// ChangeBoat changes a boat that was as they saw it. Its owners are not part of it.
func (db *DB) ChangeBoat(ctx context.Context, now time.Time, actor, form string, was, b schedule.Boat) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		on, err := tables.Boat(ctx, tx, b.ID)
		if err == nil && on != was {
			err = ErrStale
		}
		if err != nil {
			return err
		}
		return SaveBoat(ctx, tx, now, actor, b)
	})
	return kernel.Wrap(err, "change boat %q", b.ID)
}

// PartChange is what happens to a boat's components on one form.
type PartChange struct {
	BoatID string
	Was    *schedule.Component // as somebody saw it, nil for a new one
	Now    *schedule.Component // nil if it goes and nothing takes its place; without an id it is new
	// Retired is since when Was is no longer aboard, none while it is.
	Retired civil.Day
}

// ChangePart adds a component, changes one, retires one or puts a new one in its
// place, and returns the id of the present one, "" for none.
func (db *DB) ChangePart(ctx context.Context, now time.Time, actor, form string, c PartChange) (id string, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		if c.Was != nil {
			if err := checkPartSeen(ctx, tx, *c.Was); err != nil {
				return err
			}
		}
		if c.Retired != 0 {
			if err := retirePart(ctx, tx, now, actor, *c.Was, c.Retired); err != nil {
				return err
			}
		}
		if c.Now == nil {
			return nil
		}
		p := *c.Now
		p.BoatID = c.BoatID
		if p.ID == "" {
			if p.ID, err = nextPartID(ctx, tx, c.BoatID, p.Kind); err != nil {
				return err
			}
		}
		id = p.ID
		return SaveComponent(ctx, tx, now, actor, p)
	})
	return id, kernel.Wrap(err, "change what boat %q is made of", c.BoatID)
}

// checkPartSeen refuses what somebody else changed or retired meanwhile.
func checkPartSeen(ctx context.Context, tx kernel.Querier, was schedule.Component) error {
	on, err := kernel.One(ctx, tx, tables.ReadComponent, "SELECT "+tables.ComponentColumns+" FROM components WHERE boat_id = ? AND id = ? AND retired IS NULL",
		was.BoatID, was.ID)
	was.Attr.Water, was.Attr.Berth, was.Attr.BoatKind = "", "", "" // the boat's
	if err == nil && on != was {
		err = ErrStale
	}
	return err
}

// retirePart takes a component off; its history stays, and so do its rules of its
// own in case it comes back.
func retirePart(ctx context.Context, tx kernel.Querier, now time.Time, actor string, p schedule.Component, on civil.Day) error {
	last, err := kernel.One(ctx, tx, kernel.FirstText, `SELECT coalesce(max(day), '') FROM (SELECT day FROM records WHERE boat_id = ?1 AND component_id = ?2
		UNION ALL SELECT day FROM readings WHERE boat_id = ?1 AND component_id = ?2)`, p.BoatID, p.ID)
	if err != nil {
		return err
	}
	if last > on.String() {
		return fmt.Errorf("work or a reading of %s is on record for it; choose a day from then on: %w", last, ErrRefused)
	}
	if _, err := tx.ExecContext(ctx, "UPDATE components SET retired = ? WHERE boat_id = ? AND id = ?", on.String(), p.BoatID, p.ID); err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "retire a component", BoatID: p.BoatID, Before: p, After: map[string]string{"Retired": on.String()}})
}

// UnretirePart takes back that a component is no longer aboard.
func (db *DB) UnretirePart(ctx context.Context, now time.Time, actor, boatID, id string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		p, err := kernel.One(ctx, tx, tables.ReadComponent, "UPDATE components SET retired = NULL WHERE boat_id = ? AND id = ? AND retired IS NOT NULL RETURNING "+tables.ComponentColumns, boatID, id)
		if err != nil {
			return err
		}
		return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "take back that a component is retired", BoatID: boatID, After: p})
	})
	return kernel.Wrap(err, "put component %q of boat %q back", id, boatID)
}

// BoatNote is what the desk should know of a boat, until it is changed.
type BoatNote struct {
	Words string
	At    time.Time
	Actor string
}

// BoatNote returns the note on a boat, an empty one if there is none.
func (db *Reader) BoatNote(ctx context.Context, boatID string) (BoatNote, error) {
	n, err := kernel.One(ctx, db.Read, func(c *kernel.Row) BoatNote { return BoatNote{c.Text(0), c.Instant(1), c.Text(2)} },
		"SELECT words, at, actor FROM boat_notes WHERE boat_id = ?", boatID)
	_, err = kernel.Found(err)
	return n, kernel.Wrap(err, "note on boat %q", boatID)
}

// SetBoatNote writes the note on a boat, in place of the one that somebody saw;
// "" removes it. [ErrStale] if another stands there.
func (db *DB) SetBoatNote(ctx context.Context, now time.Time, actor, boatID, was, words string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tables.Boat(ctx, tx, boatID); err != nil {
			return err
		}
		on, err := kernel.One(ctx, tx, kernel.FirstText, "SELECT words FROM boat_notes WHERE boat_id = ?", boatID)
		if _, err := kernel.Found(err); err != nil {
			return err
		}
		switch {
		case on == words: // sent twice
			return nil
		case on != was:
			return ErrStale
		case words == "":
			_, err = tx.ExecContext(ctx, "DELETE FROM boat_notes WHERE boat_id = ?", boatID)
		default:
			_, err = tx.ExecContext(ctx, `INSERT INTO boat_notes (boat_id, words, at, actor) VALUES (?, ?, ?, ?)
				ON CONFLICT (boat_id) DO UPDATE SET words = excluded.words, at = excluded.at, actor = excluded.actor`, boatID, words, now.Unix(), actor)
		}
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "note on the boat", BoatID: boatID,
			Before: map[string]string{"Note": on}, After: map[string]string{"Note": words}})
	})
	return kernel.Wrap(err, "note on boat %q", boatID)
}

// OwnedBy returns which boats a customer has and had, in order of time.
func (db *Reader) OwnedBy(ctx context.Context, customerID string) ([]schedule.Ownership, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) schedule.Ownership {
		return schedule.Ownership{BoatID: c.Text(0), CustomerID: customerID, From: c.Day(1), To: c.Day(2)}
	}, "SELECT boat_id, from_day, to_day FROM ownerships WHERE customer_id = ? ORDER BY from_day, boat_id, seq", customerID)
	return all, kernel.Wrap(err, "boats that customer %q has and had", customerID)
}
