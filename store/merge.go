package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// cursor reads one table in order of its boats.
type cursor struct {
	boatTable
	row  *kernel.Row
	boat string // the boat of the present row
	more bool   // there is a present row
}

// mergeQuery reads a whole table in the order in which its rows lie.
func mergeQuery(p boatTable) string {
	return "SELECT " + p.columns + " FROM " + p.table + " ORDER BY 1, 2, 3"
}

// openCursor starts reading.
func openCursor(ctx context.Context, tx *sql.Tx, p boatTable) (*cursor, error) {
	rows, err := tx.QueryContext(ctx, mergeQuery(p))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", p.table, err)
	}
	c, err := kernel.NewRow(rows)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", p.table, err), rows.Close())
	}
	cur := &cursor{boatTable: p, row: c}
	cur.advance()
	return cur, nil
}

func (cur *cursor) advance() {
	if cur.more = cur.row.Next(); cur.more {
		cur.boat = cur.row.Text(0)
	}
}

// take adds the rows of the boat to its facts. Rows of a boat before it belong
// to none: foreign keys rule them out, and they are passed over.
func (cur *cursor) take(f *schedule.Facts) {
	for cur.more && cur.boat < f.Boat.ID {
		cur.advance()
	}
	for cur.more && cur.boat == f.Boat.ID {
		cur.add(f, cur.row)
		cur.advance()
	}
}

func (cur *cursor) close() error {
	if err := cur.row.Close(); err != nil {
		return fmt.Errorf("%s: %w", cur.table, err)
	}
	return nil
}

// mergeFacts reads the whole fleet with one cursor a table, side by side, and
// passes each boat's facts on.
func mergeFacts(ctx context.Context, tx *sql.Tx, out *kernel.Pipeline[schedule.Facts]) (err error) {
	var cursors []*cursor
	defer func() {
		for _, cur := range cursors {
			err = errors.Join(err, cur.close())
		}
	}()
	for _, p := range boatTables() {
		cur, err := openCursor(ctx, tx, p)
		if err != nil {
			return err
		}
		cursors = append(cursors, cur)
	}
	boats, err := openCursor(ctx, tx, boatTable{columns: tables.BoatColumns, table: "boats"})
	if err != nil {
		return err
	}
	perBoat := cursors
	cursors = append(cursors, boats)

	for boats.more {
		f, err := out.Slot(ctx)
		if err != nil {
			return err
		}
		resetFacts(f, tables.ReadBoat(boats.row))
		for _, cur := range perBoat {
			cur.take(f)
			if cur.row.Err() != nil {
				return nil // its close reports it
			}
		}
		if boats.row.Err() != nil {
			return nil
		}
		attachBookings(f.Prior, f.Bookings)
		boats.advance()
	}
	return out.Flush(ctx)
}
