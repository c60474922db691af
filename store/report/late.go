package report

import (
	"context"
	"database/sql"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// StillLate returns of some visits those that are not booked and planned for no
// week in time, or for none: their boats by visit.
func StillLate(ctx context.Context, db *store.Reader, ids []string) (map[string]string, error) {
	late := make(map[string]string)
	if len(ids) == 0 {
		return late, nil
	}
	_, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) struct{} {
		late[c.Text(0)] = c.Text(1)
		return struct{}{}
	}, "SELECT v.id, v.boat_id FROM json_each(?) j JOIN visits v ON v.id = j.value WHERE v.lapsed = 0 AND (v.week IS NULL OR date(v.week, '+6 days') >= v.deadline)"+notBooked, kernel.IDList(ids))
	return late, kernel.Wrap(err, "read which visits are late still")
}

// VisitRows reads some visits with what the desk needs beside them, in the order
// of their ids; those no longer planned are left out.
func VisitRows(ctx context.Context, db *store.Reader, ids []string) (rows []WeekRow, err error) {
	err = db.Snapshot(ctx, func(t *sql.Tx) error {
		tx := db.Read.Prepared(t)
		defer tx.Close()
		spots := make([]spot, len(ids))
		for i := range ids {
			spots[i] = spot{id: ids[i]}
		}
		rows, err = weekRows(ctx, tx, spots)
		return err
	})
	return rows, kernel.Wrap(err, "read visits")
}
