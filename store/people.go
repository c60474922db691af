package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/hin"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// OwnerOf returns the present owner of a boat; [ErrNotFound] if the shop has it.
func (db *Reader) OwnerOf(ctx context.Context, boatID string) (schedule.Customer, error) {
	c, err := kernel.One(ctx, db.Read, tables.ReadCustomer, "SELECT "+kernel.Column("c", tables.CustomerColumns)+
		" FROM ownerships o JOIN customers c ON c.id = o.customer_id WHERE o.boat_id = ? AND o.to_day IS NULL", boatID)
	if err != nil {
		return c, fmt.Errorf("owner of boat %q: %w", boatID, err)
	}
	return c, nil
}

// BoatsOf returns the boats that a customer has now, in order of id.
func (db *Reader) BoatsOf(ctx context.Context, customerID string) ([]schedule.Boat, error) {
	all, err := kernel.Collect(ctx, db.Read, tables.ReadBoat, "SELECT "+kernel.Column("b", tables.BoatColumns)+
		" FROM ownerships o JOIN boats b ON b.id = o.boat_id WHERE o.customer_id = ? AND o.to_day IS NULL ORDER BY b.id", customerID)
	return all, kernel.Wrap(err, "boats of customer %q", customerID)
}

// Customers returns a page of customers in order of id, beginning after one.
func (db *Reader) Customers(ctx context.Context, after string, limit int) ([]schedule.Customer, error) {
	all, err := kernel.Collect(ctx, db.Read, tables.ReadCustomer, "SELECT "+tables.CustomerColumns+" FROM customers WHERE id > ? ORDER BY id LIMIT ?", after, kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "list customers")
}

// Boats returns a page of boats in order of id, beginning after one.
func (db *Reader) Boats(ctx context.Context, after string, limit int) ([]schedule.Boat, error) {
	all, err := kernel.Collect(ctx, db.Read, tables.ReadBoat, "SELECT "+tables.BoatColumns+" FROM boats WHERE id > ? ORDER BY id LIMIT ?", after, kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "list boats")
}

// SaveCustomer adds a customer or changes one.
func SaveCustomer(ctx context.Context, tx kernel.Querier, now time.Time, actor string, c schedule.Customer) error {
	if err := needID(c.ID); err != nil {
		return err
	}
	if c.Email != "" {
		address, err := CheckAddress(c.Email)
		if err != nil {
			return fmt.Errorf("%w: %w", err, ErrRefused)
		}
		c.Email = address
	}
	c.ContactBy = tables.WayOf(c)
	e := kernel.Entry{Actor: actor, What: "save a customer", CustomerID: c.ID, After: c}
	old, err := tables.Customer(ctx, tx, c.ID)
	known, err := kernel.Found(err)
	if err != nil {
		return err
	}
	if known {
		e.Before = old
	}
	if done, err := tables.PutCustomer(ctx, tx, c); err != nil || done == tables.Unchanged {
		return err
	}
	return kernel.Audit(ctx, tx, now, e)
}

// SetWinterWork notes whether the owner of a boat agrees that what is done cold is
// done in the winter, while it is in our storage.
func (db *DB) SetWinterWork(ctx context.Context, now time.Time, actor, boatID string, agrees bool) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		b, err := tables.Boat(ctx, tx, boatID)
		if err != nil {
			return err
		}
		b.WinterWork = agrees
		return SaveBoat(ctx, tx, now, actor, b)
	})
	return kernel.Wrap(err, "note winter work of boat %q", boatID)
}

// SaveBoat adds a boat or changes one; its owners are [SetOwner]'s.
func SaveBoat(ctx context.Context, tx kernel.Querier, now time.Time, actor string, b schedule.Boat) error {
	if err := needID(b.ID); err != nil {
		return err
	}
	b.HIN = hin.Written(b.HIN)
	e := kernel.Entry{Actor: actor, What: "save a boat", BoatID: b.ID, After: b}
	old, known, err := tables.KnownBoat(ctx, tx, b.ID)
	if err != nil {
		return err
	}
	if known {
		e.Before = old
	}
	if done, err := tables.PutBoat(ctx, tx, b); err != nil || done == tables.Unchanged {
		return err
	}
	return changedFact(ctx, tx, now, e)
}

// SaveComponent adds a component to its boat or changes one.
func SaveComponent(ctx context.Context, tx kernel.Querier, now time.Time, actor string, p schedule.Component) error {
	if err := needID(p.ID); err != nil {
		return err
	}
	home, err := tables.HomeOf(ctx, tx, p.ID)
	taken, err := kernel.Found(err)
	if err != nil {
		return err
	}
	if taken && (home != p.BoatID || home == p.ID) {
		return fmt.Errorf("that id belongs to boat %q: %w", home, ErrRefused)
	}
	e := kernel.Entry{Actor: actor, What: "save a component", BoatID: p.BoatID, After: p}
	if taken {
		if e.Before, err = kernel.One(ctx, tx, tables.ReadComponent, "SELECT "+tables.ComponentColumns+" FROM components WHERE boat_id = ? AND id = ?", p.BoatID, p.ID); err != nil {
			return err
		}
	}
	if done, err := tables.PutComponent(ctx, tx, p); err != nil || done == tables.Unchanged {
		return err
	}
	return changedFact(ctx, tx, now, e)
}

// needID refuses an id that is empty or would break addresses.
func needID(id string) error {
	if err := tables.CheckID(id); err != nil {
		return fmt.Errorf("%w: %w", err, ErrRefused)
	}
	if id == "" {
		return fmt.Errorf("it needs an id: %w", ErrRefused)
	}
	return nil
}

// Boat returns one boat; [ErrNotFound] if there is no such id.
func (db *Reader) Boat(ctx context.Context, id string) (schedule.Boat, error) {
	b, err := tables.Boat(ctx, db.Read, id)
	if err != nil {
		return b, fmt.Errorf("read boat %q: %w", id, err)
	}
	return b, nil
}

// Customer returns one customer; [ErrNotFound] if there is no such id.
func (db *Reader) Customer(ctx context.Context, id string) (schedule.Customer, error) {
	c, err := tables.Customer(ctx, db.Read, id)
	if err != nil {
		return c, fmt.Errorf("read customer %q: %w", id, err)
	}
	return c, nil
}

// BoatIDs returns the ids of all boats, rising.
func (db *Reader) BoatIDs(ctx context.Context) ([]string, error) {
	ids, err := kernel.Collect(ctx, db.Read, kernel.FirstText, "SELECT id FROM boats ORDER BY id")
	return ids, kernel.Wrap(err, "list the boats")
}
