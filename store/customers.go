package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

const customerColumns = "id, name, email, phone, address, city, region, postal_code, contact_by"

func readCustomer(c *kernel.Row) schedule.Customer {
	return schedule.Customer{
		ID: c.Text(0), Name: c.Text(1), Email: c.Text(2), Phone: c.Text(3), Address: c.Text(4),
		City: c.Text(5), Region: c.Text(6), PostalCode: c.Text(7), ContactBy: c.Text(8),
	}
}

func customer(ctx context.Context, q kernel.Querier, id string) (schedule.Customer, error) {
	return kernel.One(ctx, q, readCustomer, "SELECT "+customerColumns+" FROM customers WHERE id = ?", id)
}

// Customer returns one customer; [ErrNotFound] if there is no such id.
func (db *DB) Customer(ctx context.Context, id string) (schedule.Customer, error) {
	c, err := customer(ctx, db.Read, id)
	if err != nil {
		return c, fmt.Errorf("read customer %q: %w", id, err)
	}
	return c, nil
}

// putCustomer writes a customer down and says whether that changed anything.
func putCustomer(ctx context.Context, q kernel.Querier, c schedule.Customer) (change, error) {
	old, err := customer(ctx, q, c.ID)
	known, err := kernel.Found(err)
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
