package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// PartOrder is a quantity of a part that was ordered from a supplier.
type PartOrder struct {
	ID       int64
	Code     string
	Name     string
	Unit     string
	Quantity float64
	Supplier string
	Cost     schedule.Cents // of a unit, 0 if nobody said
	Ordered  civil.Day
	Received civil.Day // 0 while it is waited for
}

// PartUse is a quantity of a part that a record took.
type PartUse struct {
	Code     string
	Unit     string
	Quantity float64
	Record   int // number of the record in its [Work]
}

// PartStock is what is known of a part beside what the plan needs.
type PartStock struct {
	Code, Unit string
	Name       string  // of the newest order
	InStock    float64 // received less used; below 0 if more was used than came in
	OnOrder    float64
	Supplier   string         // of the newest order
	Cost       schedule.Cents // of a unit, of the newest order that says it; 0 for none
}

const orderColumns = "id, code, name, unit, quantity, supplier, cost, ordered, received"

func readOrder(c *kernel.Row) PartOrder {
	return PartOrder{ID: c.Int(0), Code: c.Text(1), Name: c.Text(2), Unit: c.Text(3), Quantity: c.Real(4), Supplier: c.Text(5), Cost: c.Cents(6), Ordered: c.Day(7), Received: c.Day(8)}
}

// OpenOrders returns the orders that are waited for, in order of supplier and age.
func (db *Reader) OpenOrders(ctx context.Context) ([]PartOrder, error) {
	all, err := kernel.Collect(ctx, db.Read, readOrder, "SELECT "+orderColumns+" FROM part_orders WHERE received IS NULL ORDER BY supplier, id")
	return all, kernel.Wrap(err, "list what is on order")
}

// ReceivedOrders returns the newest orders that came in.
func (db *Reader) ReceivedOrders(ctx context.Context, limit int) ([]PartOrder, error) {
	all, err := kernel.Collect(ctx, db.Read, readOrder, "SELECT "+orderColumns+" FROM part_orders WHERE received IS NOT NULL ORDER BY received DESC, id DESC LIMIT ?", limit)
	return all, kernel.Wrap(err, "list what came in")
}

// PartStocks returns every part that was ever ordered or used, in order of code.
func (db *Reader) PartStocks(ctx context.Context) ([]PartStock, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) PartStock {
		return PartStock{Code: c.Text(0), Unit: c.Text(1), InStock: c.Real(2), OnOrder: c.Real(3), Supplier: c.Text(4), Cost: c.Cents(5), Name: c.Text(6)}
	}, `WITH parts (code, unit) AS (SELECT code, unit FROM part_orders UNION SELECT code, unit FROM part_uses)
		SELECT p.code, p.unit,
			round((SELECT coalesce(sum(quantity), 0.0) FROM part_orders o WHERE (o.code, o.unit) = (p.code, p.unit) AND received IS NOT NULL)
				- (SELECT coalesce(sum(quantity), 0.0) FROM part_uses u WHERE (u.code, u.unit) = (p.code, p.unit)), 3),
			round((SELECT coalesce(sum(quantity), 0.0) FROM part_orders o WHERE (o.code, o.unit) = (p.code, p.unit) AND received IS NULL), 3),
			coalesce((SELECT supplier FROM part_orders o WHERE (o.code, o.unit) = (p.code, p.unit) ORDER BY id DESC LIMIT 1), ''),
			coalesce((SELECT cost FROM part_orders o WHERE (o.code, o.unit) = (p.code, p.unit) AND cost > 0 ORDER BY id DESC LIMIT 1), 0),
			coalesce((SELECT name FROM part_orders o WHERE (o.code, o.unit) = (p.code, p.unit) ORDER BY id DESC LIMIT 1), p.code)
		FROM parts p ORDER BY p.code, p.unit`)
	return all, kernel.Wrap(err, "count the parts")
}

// OrderParts writes down orders, all or none. form is as with [DB.RecordWork].
func (db *DB) OrderParts(ctx context.Context, now time.Time, actor, form string, orders []PartOrder) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		for _, o := range orders {
			if o.Code == "" || o.Quantity <= 0 || o.Cost < 0 || o.Ordered == 0 {
				return fmt.Errorf("an order needs a part, a day and a quantity above 0: %w", ErrRefused)
			}
			_, err := tx.ExecContext(ctx, "INSERT INTO part_orders (code, name, unit, quantity, supplier, cost, ordered) VALUES (?, ?, ?, ?, ?, ?, ?)",
				o.Code, o.Name, o.Unit, o.Quantity, o.Supplier, int64(o.Cost), o.Ordered.String())
			if err != nil {
				return err
			}
			if err := kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "order a part", After: o}); err != nil {
				return err
			}
		}
		return nil
	})
	return kernel.Wrap(err, "order parts")
}

// ReceiveOrder notes that an order came in on a day; day 0 takes that back.
// [ErrStale] if it stands so already, [ErrNotFound] if there is no such order.
func (db *DB) ReceiveOrder(ctx context.Context, now time.Time, actor string, id int64, day civil.Day) error {
	what := "receive a part"
	if day == 0 {
		what = "take back a receipt"
	}
	return db.changeOrder(ctx, now, actor, what, id, func(tx *sql.Tx, o PartOrder) (any, error) {
		if (o.Received != 0) == (day != 0) {
			return nil, ErrStale
		}
		is := o
		is.Received = day
		_, err := tx.ExecContext(ctx, "UPDATE part_orders SET received = ? WHERE id = ?", kernel.DayArg(day), id)
		return is, err
	})
}

// CancelOrder takes an order back that was not received.
func (db *DB) CancelOrder(ctx context.Context, now time.Time, actor string, id int64) error {
	return db.changeOrder(ctx, now, actor, "cancel an order", id, func(tx *sql.Tx, o PartOrder) (any, error) {
		if o.Received != 0 {
			return nil, ErrStale
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM part_orders WHERE id = ?", id)
		return nil, err
	})
}

func (db *DB) changeOrder(ctx context.Context, now time.Time, actor, what string, id int64, change func(*sql.Tx, PartOrder) (any, error)) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		o, err := kernel.One(ctx, tx, readOrder, "SELECT "+orderColumns+" FROM part_orders WHERE id = ?", id)
		if err != nil {
			return err
		}
		is, err := change(tx, o)
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: what, Before: o, After: is})
	})
	return kernel.Wrap(err, "order %d", id)
}

// addUse notes what a record took.
func addUse(ctx context.Context, tx kernel.Querier, w *Work, u *PartUse) error {
	if u.Record < 0 || u.Record >= len(w.Records) || u.Quantity <= 0 {
		return fmt.Errorf("a part needs a record and a quantity above 0: %w", ErrRefused)
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO part_uses (boat_id, record_id, code, unit, quantity) VALUES (?, ?, ?, ?, ?)",
		w.BoatID, w.Records[u.Record].ID, u.Code, u.Unit, u.Quantity)
	return err
}
