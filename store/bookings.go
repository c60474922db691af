package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Book fixes the day of a visit, or moves it, if it fits. A booking with Over
// is made although it does not. Was is the booking that whoever decided knew of,
// as [schedule.Booking.When] gives it, nil for any; [ErrStale] if it is another.
func (db *DB) Book(ctx context.Context, now time.Time, actor string, b schedule.Booking, was *string, fit Fit) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := stillAs(ctx, tx, b.VisitID, was); err != nil {
			return err
		}
		return book(ctx, tx, now, actor, b, fit)
	})
	return kernel.Wrap(err, "book visit %q", b.VisitID)
}

// stillAs returns [ErrStale] if a visit's booking is no longer what somebody
// saw.
func stillAs(ctx context.Context, q kernel.Querier, visitID string, was *string) error {
	if was == nil {
		return nil
	}
	is, err := bookingOrNone(ctx, q, visitID)
	if err == nil && is.When() != *was {
		err = ErrStale
	}
	return err
}

func book(ctx context.Context, tx kernel.Querier, now time.Time, actor string, b schedule.Booking, fit Fit) error {
	if _, err := tables.Boat(ctx, tx, b.BoatID); err != nil {
		return err
	}
	if b.Day == 0 || b.VisitID == "" {
		return fmt.Errorf("it needs a visit and a day: %w", ErrRefused)
	}
	e := kernel.Entry{Actor: actor, What: "book", BoatID: b.BoatID}
	old, err := booking(ctx, tx, b.VisitID)
	known, err := kernel.Found(err)
	if err != nil {
		return err
	}
	if known && old.BoatID != b.BoatID {
		return fmt.Errorf("the visit is boat %q's: %w", old.BoatID, ErrRefused)
	}
	if fit != nil {
		r, err := room(ctx, tx, b.VisitID, b.Day)
		if err != nil {
			return err
		}
		switch err := fit(r); {
		case err == nil: // within the week that it went over, it still does
			b.Over = known && old.Over && old.Day.Week() == b.Day.Week()
		case !b.Over:
			return err
		}
	}
	if known {
		e.Before = old
	}
	switch { // only another day needs a reason, and its reason stays with it
	case !known:
		b.Reason = ""
	case old.Day == b.Day && b.Reason == "":
		b.Reason = old.Reason
	}
	if e.After = b; known && old == b {
		return nil
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO bookings (`+tables.BookingColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (boat_id, visit_id) DO UPDATE SET kind = excluded.kind, day = excluded.day, minute = excluded.minute, over = excluded.over, reason = excluded.reason`,
		b.BoatID, b.VisitID, b.Kind, b.Day.String(), b.Minute, kernel.BoolArg(b.Over), b.Reason)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "UPDATE visits SET missed_day = NULL WHERE id = ? AND missed_day IS NOT NULL", b.VisitID); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM called_off WHERE visit_id = ?", b.VisitID); err != nil {
		return err
	}
	if err := settleAgainst(ctx, tx, now, actor, b.VisitID); err != nil {
		return err
	}
	return changedFact(ctx, tx, now, e)
}

// Unbook makes a booked visit penciled in again; [ErrNotFound] if it was not
// booked. Was is as for [DB.Book], why says on whose wish, nil for nobody's.
func (db *DB) Unbook(ctx context.Context, now time.Time, actor, visitID string, was *string, why *schedule.CalledOff) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := stillAs(ctx, tx, visitID, was); err != nil {
			return err
		}
		old, err := booking(ctx, tx, visitID)
		if err != nil {
			return err
		}
		if err := unbook(ctx, tx, now, actor, visitID); err != nil || why == nil {
			return err
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO called_off (visit_id, boat_id, by_shop, reason) VALUES (?, ?, ?, ?)",
			visitID, old.BoatID, kernel.BoolArg(why.ByShop), why.Reason)
		return err
	})
	return kernel.Wrap(err, "unbook visit %q", visitID)
}

// CalledOff returns of which visits of some customers' boats the desk said who called
// them off, by customer.
func (db *Reader) CalledOff(ctx context.Context, customerIDs []string) (map[string][]schedule.CalledOff, error) {
	by := make(map[string][]schedule.CalledOff)
	_, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) (none struct{}) {
		by[c.Text(0)] = append(by[c.Text(0)], schedule.CalledOff{VisitID: c.Text(1), ByShop: c.Bool(2), Reason: c.Text(3)})
		return none
	}, "SELECT o.customer_id, x.visit_id, x.by_shop, x.reason FROM ownerships o JOIN called_off x ON x.boat_id = o.boat_id WHERE "+
		kernel.AmongCustomers(customerIDs)+" AND o.to_day IS NULL ORDER BY x.visit_id", kernel.IDList(customerIDs))
	return by, kernel.Wrap(err, "read who called visits off")
}

func unbook(ctx context.Context, tx kernel.Querier, now time.Time, actor, visitID string) error {
	old, err := booking(ctx, tx, visitID)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM bookings WHERE visit_id = ?", visitID); err != nil {
		return err
	}
	if err := settleAgainst(ctx, tx, now, actor, visitID); err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "cancel a booking", BoatID: old.BoatID, Before: old})
}

func booking(ctx context.Context, q kernel.Querier, visitID string) (schedule.Booking, error) {
	return kernel.One(ctx, q, tables.ReadBooking, "SELECT "+tables.BookingColumns+" FROM bookings WHERE visit_id = ?", visitID)
}

// Booking returns the booking of a visit, planned or not; [ErrNotFound] if it has none.
func (db *Reader) Booking(ctx context.Context, visitID string) (schedule.Booking, error) {
	b, err := booking(ctx, db.Read, visitID)
	return b, kernel.Wrap(err, "read the booking of visit %q", visitID)
}

// NothingLeft returns the visits that are booked for a day or a later one and of which
// nothing is left to do ([schedule.Visit.NothingLeft]), in order of the booked day.
func (db *Reader) NothingLeft(ctx context.Context, from civil.Day, limit int) ([]VisitRow, error) {
	rows, err := kernel.Collect(ctx, db.Read, readVisitRow, "SELECT "+visitRowColumns+
		" FROM bookings k JOIN visits v ON v.boat_id = k.boat_id AND v.id = k.visit_id AND v.items = '' JOIN boats b ON b.id = k.boat_id"+tables.WithOwner+
		" WHERE k.day >= ? ORDER BY k.day, k.visit_id LIMIT ?", from.String(), kernel.LimitOr(limit))
	return rows, kernel.Wrap(err, "list what is booked and has nothing left to do")
}

// BookedBefore returns the planned visits that were booked for a day before this
// one, in order of the booked day: their work is not recorded.
func (db *Reader) BookedBefore(ctx context.Context, day civil.Day) ([]schedule.Booking, error) {
	all, err := bookedBefore(ctx, db.Read, day, "")
	return all, kernel.Wrap(err, "list what was booked before %s", day)
}

func bookedBefore(ctx context.Context, q kernel.Querier, day civil.Day, and string) ([]schedule.Booking, error) {
	return kernel.Collect(ctx, q, tables.ReadBooking, "SELECT "+kernel.Column("k", tables.BookingColumns)+
		" FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day < ?"+and+" ORDER BY k.day, k.visit_id", day.String())
}

// ReleaseMissed takes the bookings of planned visits off that were for a day
// before this one, and notes the day with the visit. A boat that is still with us
// keeps its booking. It returns how many.
func (db *DB) ReleaseMissed(ctx context.Context, now time.Time, actor string, before civil.Day) (int, error) {
	released := 0
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		all, err := bookedBefore(ctx, tx, before, " AND k.visit_id NOT IN (SELECT visit_id FROM stages WHERE "+inYard+")")
		if err != nil {
			return err
		}
		for _, b := range all {
			if err := unbook(ctx, tx, now, actor, b.VisitID); err != nil {
				return fmt.Errorf("visit %q: %w", b.VisitID, err)
			}
			if _, err := tx.ExecContext(ctx, "UPDATE visits SET missed_day = ? WHERE id = ?", b.Day.String(), b.VisitID); err != nil {
				return fmt.Errorf("visit %q: %w", b.VisitID, err)
			}
		}
		released = len(all)
		return nil
	})
	return released, kernel.Wrap(err, "release what was booked before %s", before)
}
