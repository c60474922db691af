package store

import (
	"context"
	"database/sql"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Week is the shop week into which a visit was fitted, none if it did not fit.
type Week struct {
	VisitID string
	Week    civil.Week
	Why     level.Why // kept as it is for a visit that stays in its week
}

// SaveWeeks writes down into which weeks visits were fitted; a visit that is no
// longer planned is passed over. It returns the ids of the boats for which
// something changed: their feeds must be written again.
func (db *DB) SaveWeeks(ctx context.Context, weeks []Week) (boatIDs []string, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		boatIDs = nil
		p := db.Write.Prepared(tx)
		defer p.Close()
		for _, w := range weeks {
			boat, err := kernel.One(ctx, p, kernel.FirstText,
				`UPDATE visits SET week = ?1, week_why = ?3, week_from = ?4 WHERE id = ?2 AND (week IS NOT ?1 OR ?5 AND (week_why <> ?3 OR week_from IS NOT ?4))
				RETURNING boat_id`, kernel.WeekArg(w.Week), w.VisitID, string(w.Why.Reason), kernel.WeekArg(besides(&w.Why)), kernel.BoolArg(w.Why.Reason != level.Kept && w.Why.Reason != ""))
			ok, err := kernel.Found(err)
			if err != nil {
				return fmt.Errorf("pencil visit %q into week %s: %w", w.VisitID, w.Week, err)
			}
			if ok {
				boatIDs = append(boatIDs, boat)
			}
		}
		return toPublish(ctx, p, boatIDs)
	})
	return boatIDs, err
}

// besides is the week that a reason speaks of beside the one it explains.
func besides(w *level.Why) civil.Week {
	switch w.Reason {
	case level.Nearest:
		return w.Wish
	case level.NewWindow, level.LostHours, level.MadeRoom, level.Evened, level.Refilled:
		return w.Prior
	}
	return 0
}

// EachVisit calls fn with every planned visit in order of its boat, for fitting
// them all into weeks. The visit is fn's to keep.
func (db *Reader) EachVisit(ctx context.Context, fn func(schedule.Visit) error) error {
	return db.Snapshot(ctx, func(tx *sql.Tx) error {
		bookings, err := kernel.Collect(ctx, tx, tables.ReadBooking, "SELECT "+tables.BookingColumns+" FROM bookings")
		if err != nil {
			return fmt.Errorf("read the bookings: %w", err)
		}
		of := make(map[string]*schedule.Booking, len(bookings))
		for i := range bookings {
			of[bookings[i].VisitID] = &bookings[i]
		}
		rows, err := tx.QueryContext(ctx, "SELECT "+tables.VisitColumns+" FROM visits ORDER BY boat_id, id")
		if err != nil {
			return fmt.Errorf("read the visits: %w", err)
		}
		c, err := kernel.NewRow(rows)
		if err != nil {
			rows.Close()
			return fmt.Errorf("read the visits: %w", err)
		}
		for c.Next() {
			v := tables.ReadVisit(c)
			v.Booking = of[v.ID]
			if err := fn(v); err != nil {
				c.Note(err)
				break
			}
		}
		return c.Close()
	})
}

// WeekLoad is the work that lies in one shop week.
type WeekLoad struct {
	Week              civil.Week
	Booked, Pencilled level.Amounts
}

// WeekLoads returns the load of each week from one to another, both included,
// that has any; in order of time. Its cost does not grow with the fleet.
func (db *Reader) WeekLoads(ctx context.Context, from, to civil.Week) ([]WeekLoad, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) WeekLoad {
		return WeekLoad{c.Week(0), amounts(c, 1), amounts(c, 4)}
	}, `SELECT week, booked, yard_booked, lifts_booked, pencilled, yard_pencilled, lifts_pencilled FROM week_load
		WHERE week BETWEEN ? AND ? AND (booked <> 0 OR pencilled <> 0 OR yard_booked <> 0 OR yard_pencilled <> 0 OR lifts_booked <> 0 OR lifts_pencilled <> 0)
		ORDER BY week`,
		from.Monday().String(), to.Monday().String())
	return all, kernel.Wrap(err, "read the load of weeks %s to %s", from, to)
}

// amounts reads three columns: minutes of the technicians and of the yard crew,
// and moves of the lift.
func amounts(c *kernel.Row, at int) level.Amounts {
	return level.Amounts{level.Labor: int(c.Int(at)), level.Yard: int(c.Int(at + 1)), level.Lifts: int(c.Int(at + 2))}
}
