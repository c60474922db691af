package archive

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Dossier is everything that is kept about one customer, table by table, in the
// words of an export.
type Dossier struct {
	Tables []DossierTable `json:"tables"`
}

// DossierTable is the rows of one table.
type DossierTable struct {
	Name    string     `json:"name"`
	Columns []string   `json:"columns"`
	Rows    [][]string `json:"rows"`
}

// dossierQueries select what belongs to a customer where the table does not name
// the customer itself.
func dossierQueries() map[string]string {
	const mine = "t.boat_id IN (SELECT boat_id FROM ownerships WHERE customer_id = :id)"
	day := fmt.Sprintf(tables.TimesOwned, "t.day")
	return map[string]string{
		"customers":    "t.id = :id",
		"boats":        "t.id IN (SELECT boat_id FROM ownerships WHERE customer_id = :id)",
		"records":      day,
		"readings":     day,
		"bookings":     mine + " AND " + day,
		"said":         fmt.Sprintf(tables.TimesOwned, "date(t.at, 'unixepoch')"),
		"outbox_raw":   "t.letter_id IN (SELECT id FROM outbox WHERE customer_id = :id)",
		"returned":     "t.letter_id IN (SELECT id FROM outbox WHERE customer_id = :id)",
		"suppressions": "t.address IN (SELECT lower(email) FROM customers WHERE id = :id)",
		"revived":      "t.address IN (SELECT lower(email) FROM customers WHERE id = :id)",
	}
}

// CollectDossier collects everything that is kept about a customer: what is filed under
// their id, and the boats, work and readings of their time as an owner.
// [ErrNotFound] if there is no such customer.
func CollectDossier(ctx context.Context, db *store.Reader, id string) (Dossier, error) {
	var d Dossier
	err := db.Snapshot(ctx, func(tx *sql.Tx) error {
		if _, err := tables.Customer(ctx, tx, id); err != nil {
			return err
		}
		tables, err := tableNames(ctx, tx)
		if err != nil {
			return err
		}
		for _, table := range slices.DeleteFunc(tables, excludedTable) {
			t, err := dossierTable(ctx, tx, table, id)
			if err != nil {
				return fmt.Errorf("table %s: %w", table, err)
			}
			if len(t.Rows) > 0 {
				d.Tables = append(d.Tables, t)
			}
		}
		return nil
	})
	return d, kernel.Wrap(err, "data of customer %q", id)
}

func dossierTable(ctx context.Context, q kernel.Querier, table, id string) (DossierTable, error) {
	t := DossierTable{Name: table}
	columns, err := columnsOf(ctx, q, table)
	if err != nil {
		return t, err
	}
	for _, c := range columns {
		t.Columns = append(t.Columns, c.name)
	}
	where, known := dossierQueries()[table]
	if !known {
		if !slices.Contains(t.Columns, "customer_id") {
			return t, nil
		}
		where = "t.customer_id = :id"
	}
	t.Rows, err = kernel.Collect(ctx, q, func(c *kernel.Row) []string {
		row := make([]string, len(columns))
		for i := range row {
			row[i] = columns[i].write(c, i)
		}
		return row
	}, "SELECT "+quoted(t.Columns)+` FROM "`+table+`" t WHERE `+where, sql.Named("id", id))
	return t, err
}
