package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// VisitQuery asks for visits. Weeks From to To, both included, select those
// booked or else pencilled there; no weeks mean every visit in order of its
// planned day. After is the [VisitRow.Key] of the last row seen.
type VisitQuery struct {
	From, To civil.Week
	After    string
	Limit    int // 0 means 100
}

// VisitRow is a visit with what the desk needs beside it.
type VisitRow struct {
	Key   string
	Visit schedule.Visit
	Boat  schedule.Boat
	Owner schedule.Customer
}

// Visits returns a page of visits in order of planned day and id.
func (db *Reader) Visits(ctx context.Context, q VisitQuery) ([]VisitRow, error) {
	day, id, _ := tables.SplitKey(q.After)
	where, args := "true", []any{}
	if q.From != 0 || q.To != 0 {
		// A booking decides; the pencilled week counts only without one.
		where = `v.id IN (SELECT visit_id FROM bookings WHERE day BETWEEN ? AND ?
			UNION ALL SELECT p.id FROM visits p WHERE p.week BETWEEN ? AND ?
				AND NOT EXISTS (SELECT 1 FROM bookings n WHERE n.visit_id = p.id))`
		from, to := q.From.Monday().String(), kernel.LastDay(q.To.Sunday())
		args = append(args, from, to, from, to)
	}
	args = append(args, day, id, kernel.LimitOr(q.Limit))
	rows, err := kernel.Collect(ctx, db.Read, readVisitRow, "SELECT "+visitRowColumns+` FROM visits v JOIN boats b ON b.id = v.boat_id`+tables.WithOwner+
		` LEFT JOIN bookings k ON k.boat_id = v.boat_id AND k.visit_id = v.id
		WHERE `+where+` AND (v.day, v.id) > (?, ?) ORDER BY v.day, v.id LIMIT ?`, args...)
	if err != nil {
		return nil, fmt.Errorf("list visits: %w", err)
	}
	return rows, nil
}

// visitRowColumns are what [readVisitRow] reads.
var visitRowColumns = kernel.Column("v", tables.VisitColumns) + ", " + kernel.Column("b", tables.BoatColumns) + ", " +
	kernel.Column("c", tables.CustomerColumns) + ", " + kernel.Column("k", tables.BookingColumns)

func readVisitRow(c *kernel.Row) VisitRow {
	var r VisitRow
	r.Visit, r.Boat, r.Owner = tables.ReadVisitOf(c)
	r.Key = tables.JoinKey(r.Visit.Day, r.Visit.ID, "")
	return r
}
