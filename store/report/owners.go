package report

import (
	"context"
	"database/sql"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// OwnerVisits is a customer with the planned visits of the boats that are theirs.
type OwnerVisits struct {
	Customer schedule.Customer
	Visits   []WeekRow // in order of day
}

// VisitsOf reads customers, in the order of their ids, with the visits of their
// boats.
func VisitsOf(ctx context.Context, db *store.Reader, customerIDs []string) (out []OwnerVisits, err error) {
	err = db.Snapshot(ctx, func(t *sql.Tx) error {
		tx := db.Read.Prepared(t)
		defer tx.Close()
		list := kernel.IDList(customerIDs)
		customers, err := kernel.Collect(ctx, tx, tables.ReadCustomer, "SELECT "+kernel.Column("c", tables.CustomerColumns)+
			" FROM json_each(?) j JOIN customers c ON c.id = j.value ORDER BY j.key", list)
		if err != nil {
			return err
		}
		spots, err := kernel.Collect(ctx, tx, func(c *kernel.Row) spot { return spot{c.Text(0), c.Text(1)} },
			`SELECT v.day, v.id FROM json_each(?) j JOIN ownerships o ON o.customer_id = j.value AND o.to_day IS NULL
			JOIN visits v ON v.boat_id = o.boat_id ORDER BY j.key, v.day, v.id`, list)
		if err != nil {
			return err
		}
		rows, err := weekRows(ctx, tx, spots)
		if err != nil {
			return err
		}
		by := make(map[string][]WeekRow)
		for i := range rows {
			by[rows[i].Owner.ID] = append(by[rows[i].Owner.ID], rows[i])
		}
		out = make([]OwnerVisits, len(customers))
		for i, c := range customers {
			out[i] = OwnerVisits{c, by[c.ID]}
		}
		return nil
	})
	return out, kernel.Wrap(err, "read the visits of customers")
}
