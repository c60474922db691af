package imports

import (
	"io"

	"bellbuoy/schedule"
	"bellbuoy/schedule/texts"
	"bellbuoy/store"
	"bellbuoy/store/internal/tables"
)

func (in *intake) customers(r io.Reader) error {
	return in.each("customers.csv", r, layout{columns: []string{
		"customer_id", "name", "email", "phone", "address", "city", "region", "postal_code", "contact_by",
	}, optional: []string{"language"}}, in.customer)
}

func (in *intake) customer(l *line) error {
	if in.skipMerged(l, "customer_id") {
		return nil
	}
	c := schedule.Customer{
		ID: l.id("customer_id"), Name: l.text("name"), Email: l.text("email"), Phone: l.text("phone"),
		Address: l.text("address"), City: l.text("city"), Region: l.text("region"), PostalCode: l.text("postal_code"),
		ContactBy: l.optionalWord("contact_by", l.text("contact_by"), schedule.ContactWays),
		Language:  l.optionalWord("language", texts.Named(l.text("language")), texts.Languages()),
	}
	if c.Name == "" && !l.bad {
		l.fault("name", "empty; an email needs a name to greet")
	}
	if c.Email != "" {
		address, err := store.CheckAddress(c.Email)
		if err != nil {
			l.fault("email", "%v; correct it, or leave it empty if there is none", err)
		}
		c.Email = address
	}
	before, first, err := in.seen(l.no, "customer", c.ID)
	if err != nil {
		return err
	}
	if before > 0 && c.ID != "" {
		l.fault("customer_id", "%q is on line %d already; keep one line", c.ID, first)
	}
	if l.bad {
		in.spoilt["customer "+c.ID] = true
		return nil
	}
	if c.ContactBy == "email" && c.Email == "" {
		l.note("contact_by", "wants email but has no address; goes on the call list")
	}
	if err := in.keepKnown(l, &c); err != nil {
		return err
	}
	c.ContactBy = tables.WayOf(c)
	done, err := tables.PutCustomer(in.ctx, in.tx, c)
	if err != nil {
		return err
	}
	in.report.count(done)
	return nil
}
