package tables

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// CustomerColumns are the columns of a customer in the order of [ReadCustomer].
const CustomerColumns = "id, name, email, phone, address, city, region, postal_code, contact_by, language"

// ReadCustomer reads a row of [CustomerColumns].
func ReadCustomer(c *kernel.Row) schedule.Customer {
	return schedule.Customer{
		ID: c.Text(0), Name: c.Text(1), Email: c.Text(2), Phone: c.Text(3), Address: c.Text(4),
		City: c.Text(5), Region: c.Text(6), PostalCode: c.Text(7), ContactBy: c.Text(8), Language: c.Text(9),
	}
}

// Customer reads one customer; [kernel.ErrNotFound] if there is no such id.
func Customer(ctx context.Context, q kernel.Querier, id string) (schedule.Customer, error) {
	return kernel.One(ctx, q, ReadCustomer, "SELECT "+CustomerColumns+" FROM customers WHERE id = ?", id)
}

// PutCustomer writes a customer down and says whether that changed anything.
func PutCustomer(ctx context.Context, q kernel.Querier, c schedule.Customer) (Change, error) {
	old, err := Customer(ctx, q, c.ID)
	known, err := kernel.Found(err)
	if err != nil || known && old == c {
		return Unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO customers (`+CustomerColumns+`, search) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, email = excluded.email, phone = excluded.phone,
		address = excluded.address, city = excluded.city, region = excluded.region, postal_code = excluded.postal_code,
		contact_by = excluded.contact_by, language = excluded.language, search = excluded.search`,
		c.ID, c.Name, c.Email, c.Phone, c.Address, c.City, c.Region, c.PostalCode, c.ContactBy, c.Language, customerSearch(c))
	if err != nil {
		return Unchanged, fmt.Errorf("write customer %q: %w", c.ID, err)
	}
	if known && old.Language != c.Language {
		if err := rewordCalendars(ctx, q, c.ID); err != nil {
			return Unchanged, err
		}
	}
	return addedOr(known), nil
}

// rewordCalendars has the boats of a customer planned again, so that their events are
// written in another language.
func rewordCalendars(ctx context.Context, q kernel.Querier, customerID string) error {
	boats, err := kernel.Collect(ctx, q, kernel.FirstText, "SELECT boat_id FROM ownerships WHERE customer_id = ? AND to_day IS NULL", customerID)
	if err != nil || len(boats) == 0 {
		return err
	}
	return kernel.MarkDirty(ctx, q, boats...)
}

func addedOr(known bool) Change {
	if known {
		return Changed
	}
	return Added
}

// WayOf fills an empty contact_by: mail if there is an address, else the
// telephone if there is a number.
func WayOf(c schedule.Customer) string {
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
