package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Stage is how far a booked visit has come on its day.
type Stage string

// The stages in their order.
const (
	StageBooked   Stage = "booked" // the boat is not here yet
	StageHere     Stage = "here"
	StageWaiting  Stage = "waiting" // here, and waiting for parts
	StageReady    Stage = "ready"
	StagePickedUp Stage = "picked-up"
)

// Stages are all of them.
func Stages() []Stage {
	return []Stage{StageBooked, StageHere, StageWaiting, StageReady, StagePickedUp}
}

// InYard reports whether the boat is with us.
func (s Stage) InYard() bool { return s == StageHere || s == StageWaiting || s == StageReady }

// inYard selects the rows of stages whose boat is with us.
const inYard = "stage IN ('here', 'waiting', 'ready')"

// VisitStage is how far a booked visit has come, since when, and who does it.
type VisitStage struct {
	VisitID    string
	Stage      Stage
	Since      time.Time // of the stage; zero while nobody pressed anything
	Technician string    // "" for nobody yet
}

// DayRow is a booked visit with what the list of its day says of it.
type DayRow struct {
	Booking schedule.Booking
	Boat    schedule.Boat
	Owner   schedule.Customer // without an id if the shop has the boat
	// Visit is the planned one, nil once its work is on record or nothing of it is
	// planned any more. Recorded says that work since the booked day is on record.
	Visit    *schedule.Visit
	Recorded bool
	VisitStage
}

// Day returns the visits that are booked for a day, in order of their hour, those of
// any hour last; with inYard before them those of earlier days whose boats are
// still with us.
func (db *Reader) Day(ctx context.Context, day civil.Day, yard bool) ([]DayRow, error) {
	from := day.String()
	if yard {
		from = ""
	}
	all, err := kernel.Collect(ctx, db.Read, readDayRow, "SELECT "+kernel.Column("k", tables.BookingColumns)+", "+kernel.Column("b", tables.BoatColumns)+", "+
		kernel.Column("c", tables.CustomerColumns)+", EXISTS (SELECT 1 FROM records r WHERE r.boat_id = k.boat_id AND r.day >= k.day), s.stage, s.since, s.technician, "+kernel.Column("v", tables.VisitColumns)+
		` FROM bookings k JOIN boats b ON b.id = k.boat_id`+tables.WithOwner+
		` LEFT JOIN stages s ON s.visit_id = k.visit_id LEFT JOIN visits v ON v.boat_id = k.boat_id AND v.id = k.visit_id
		WHERE k.visit_id IN (SELECT visit_id FROM bookings WHERE day = ?1 UNION SELECT visit_id FROM stages WHERE `+inYard+`) AND k.day BETWEEN ?2 AND ?1
		ORDER BY k.day, k.minute < 0, k.minute, k.visit_id`, day.String(), from)
	return all, kernel.Wrap(err, "list the day %s", day)
}

// InYard returns how far the booked visits have come whose boats are with us, by
// visit.
func (db *Reader) InYard(ctx context.Context) (map[string]Stage, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) VisitStage { return VisitStage{VisitID: c.Text(0), Stage: Stage(c.Text(1))} },
		"SELECT visit_id, stage FROM stages WHERE "+inYard)
	out := make(map[string]Stage, len(all))
	for _, s := range all {
		out[s.VisitID] = s.Stage
	}
	return out, kernel.Wrap(err, "list the boats that are with us")
}

func readDayRow(c *kernel.Row) DayRow {
	r := DayRow{Booking: tables.ReadBooking(c)}
	c.Skip(tables.BookingWidth)
	r.Boat = tables.ReadBoat(c)
	c.Skip(tables.BoatWidth)
	r.Owner = tables.ReadCustomer(c)
	c.Skip(tables.CustomerWidth)
	r.Recorded = c.Bool(0)
	c.Skip(1)
	r.VisitStage = VisitStage{VisitID: r.Booking.VisitID, Stage: StageBooked}
	if !c.Null(0) {
		r.VisitStage = readStage(c, r.Booking.VisitID)
	}
	c.Skip(3)
	if !c.Null(0) {
		v := tables.ReadVisit(c)
		v.Booking = &r.Booking
		r.Visit = &v
	}
	return r
}

func readStage(c *kernel.Row, visitID string) VisitStage {
	return VisitStage{visitID, Stage(c.Text(0)), c.Instant(1), c.Text(2)}
}

// SetStage says how far a booked visit has come. was is the stage that whoever
// decided knew of: [ErrStale] if it is another now, [ErrNotFound] if the visit is not
// booked.
func (db *DB) SetStage(ctx context.Context, now time.Time, actor, visitID string, was, stage Stage) error {
	return db.changeStage(ctx, now, actor, visitID, func(s *VisitStage) error {
		if !slices.Contains(Stages(), stage) {
			return fmt.Errorf("%q is no stage of a visit: %w", stage, ErrRefused)
		}
		if s.Stage != was {
			return ErrStale
		}
		s.Stage, s.Since = stage, now
		return nil
	})
}

// AssignVisit says who does a booked visit; "" for nobody yet.
func (db *DB) AssignVisit(ctx context.Context, now time.Time, actor, visitID, technician string) error {
	return db.changeStage(ctx, now, actor, visitID, func(s *VisitStage) error {
		s.Technician = technician
		return nil
	})
}

// changeStage changes what is kept of a booked visit's day. The plan does not read
// it, so the boat is not planned again.
func (db *DB) changeStage(ctx context.Context, now time.Time, actor, visitID string, set func(*VisitStage) error) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		b, err := booking(ctx, tx, visitID)
		if err != nil {
			return err
		}
		old := VisitStage{VisitID: visitID, Stage: StageBooked}
		known, err := kernel.One(ctx, tx, func(c *kernel.Row) VisitStage { return readStage(c, visitID) },
			"SELECT stage, since, technician FROM stages WHERE visit_id = ?", visitID)
		if found, err := kernel.Found(err); err != nil {
			return err
		} else if found {
			old = known
		}
		is := old
		if err := set(&is); err != nil || is.Stage == old.Stage && is.Technician == old.Technician {
			return err
		}
		if is.Since.IsZero() {
			is.Since = now
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO stages (visit_id, boat_id, stage, since, technician) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (visit_id) DO UPDATE SET stage = excluded.stage, since = excluded.since, technician = excluded.technician`,
			visitID, b.BoatID, string(is.Stage), is.Since.Unix(), is.Technician)
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "the day", BoatID: b.BoatID, Before: old, After: is})
	})
	return kernel.Wrap(err, "the day of visit %q", visitID)
}
