package imports

import (
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/tables"
)

func (in *intake) customer(l *columns.Line, lay *columns.Layout[schedule.Customer], c schedule.Customer) error {
	if c.Name == "" && !l.Bad {
		l.Fault("name", "empty; an email needs a name to greet")
	}
	if c.Email != "" {
		address, err := store.CheckAddress(c.Email)
		if err != nil {
			l.Fault("email", "%v; correct it, or leave it empty if there is none", err)
		}
		c.Email = address
	}
	before, first, err := in.seen(l.No, "customer", c.ID)
	if err != nil {
		return err
	}
	if before > 0 && c.ID != "" {
		l.Fault("customer_id", "%q is on line %d already; keep one line", c.ID, first)
	}
	if l.Bad {
		in.spoilt["customer "+c.ID] = true
		return nil
	}
	if c.ContactBy == "email" && c.Email == "" {
		l.Note("contact_by", "wants email but has no address; goes on the call list")
	}
	if err := in.keepCustomer(lay, &c); err != nil {
		return err
	}
	c.ContactBy = tables.WayOf(c)
	done, err := tables.PutCustomer(in.ctx, in.tx, c)
	if err != nil {
		return err
	}
	in.report.count(l.File, done)
	return nil
}
