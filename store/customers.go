package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
)

const customerColumns = "id, name, email, phone, address, city, region, postal_code, contact_by"

func readCustomer(c *cells) schedule.Customer {
	return schedule.Customer{
		ID: c.text(0), Name: c.text(1), Email: c.text(2), Phone: c.text(3), Address: c.text(4),
		City: c.text(5), Region: c.text(6), PostalCode: c.text(7), ContactBy: c.text(8),
	}
}

func customer(ctx context.Context, q querier, id string) (schedule.Customer, error) {
	return one(ctx, q, readCustomer, "SELECT "+customerColumns+" FROM customers WHERE id = ?", id)
}

// Customer returns one customer; [ErrNotFound] if there is no such id.
func (db *DB) Customer(ctx context.Context, id string) (schedule.Customer, error) {
	c, err := customer(ctx, db.read, id)
	if err != nil {
		return c, fmt.Errorf("read customer %q: %w", id, err)
	}
	return c, nil
}

// putCustomer writes a customer down and says whether that changed anything.
func putCustomer(ctx context.Context, q querier, c schedule.Customer) (change, error) {
	old, err := customer(ctx, q, c.ID)
	known, err := found(err)
	if err != nil || known && old == c {
		return unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO customers (`+customerColumns+`, search) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, email = excluded.email, phone = excluded.phone,
		address = excluded.address, city = excluded.city, region = excluded.region, postal_code = excluded.postal_code,
		contact_by = excluded.contact_by, search = excluded.search`,
		c.ID, c.Name, c.Email, c.Phone, c.Address, c.City, c.Region, c.PostalCode, c.ContactBy, customerSearch(c))
	if err != nil {
		return unchanged, fmt.Errorf("write customer %q: %w", c.ID, err)
	}
	return addedOr(known), nil
}

func addedOr(known bool) change {
	if known {
		return changed
	}
	return added
}

// wayOf fills an empty contact_by: mail if there is an address, else the
// telephone if there is a number.
func wayOf(c schedule.Customer) string {
	switch {
	case c.ContactBy != "":
		return c.ContactBy
	case c.Email != "":
		return "email"
	case c.Phone != "":
		return "phone"
	}
	return "none"
}
