package report

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// OutlookVisit is a visit of the plan as it stood on a season's first day.
type OutlookVisit struct {
	BoatID, VisitID, Kind string
	Season                int
	Day                   civil.Day
	List                  schedule.Cents
	Chance                float64 // of coming, 0 to 1
}

// SaveOutlook writes down the plan as it stood on a day, in the place of what
// was known of that day before. [store.Reader.BooksMark] is another one after it.
func SaveOutlook(ctx context.Context, db *store.DB, on civil.Day, visits []OutlookVisit) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		p := kernel.NewPrepared(tx)
		defer p.Close()
		if _, err := p.ExecContext(ctx, "DELETE FROM outlooks WHERE asked_on = ?", on.String()); err != nil {
			return err
		}
		for i := range visits {
			v := &visits[i]
			_, err := p.ExecContext(ctx, "INSERT INTO outlooks (asked_on, boat_id, visit_id, kind, season, day, list, chance) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
				on.String(), v.BoatID, v.VisitID, v.Kind, v.Season, v.Day.String(), int64(v.List), v.Chance)
			if err != nil {
				return fmt.Errorf("visit %q: %w", v.VisitID, err)
			}
		}
		return store.MarkBooks(ctx, tx)
	})
	return kernel.Wrap(err, "keep the plan as of %s", on)
}

// SeasonOutlook returns the visits of one kind and season in the plan as it
// stood on a day, in order of boat.
func SeasonOutlook(ctx context.Context, db *store.Reader, on civil.Day, kind string, season int) ([]OutlookVisit, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) OutlookVisit {
		return OutlookVisit{
			BoatID: c.Text(0), VisitID: c.Text(1), Kind: kind, Season: season, Day: c.Day(2), List: c.Cents(3), Chance: c.Real(4),
		}
	}, "SELECT boat_id, visit_id, day, list, chance FROM outlooks WHERE asked_on = ? AND kind = ? AND season = ? ORDER BY boat_id, visit_id",
		on.String(), kind, season)
	return all, kernel.Wrap(err, "read the %s visits of %d as of %s", kind, season, on)
}

// OutlookSum is the list price times the chance of all visits before a day in
// the plan as it stood on another, each in whole cents.
func OutlookSum(ctx context.Context, db *store.Reader, on, before civil.Day) (schedule.Cents, error) {
	sum, err := kernel.One(ctx, db.Read, func(c *kernel.Row) schedule.Cents { return c.Cents(0) },
		"SELECT coalesce(sum(CAST(round(list * chance) AS INTEGER)), 0) FROM outlooks WHERE asked_on = ? AND day < ?", on.String(), before.String())
	return sum, kernel.Wrap(err, "add up the plan as of %s", on)
}

// OutlookByBoat is the same sum for each boat that the plan held a visit for.
func OutlookByBoat(ctx context.Context, db *store.Reader, on, before civil.Day) (map[string]schedule.Cents, error) {
	type sum struct {
		boat string
		paid schedule.Cents
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) sum { return sum{c.Text(0), c.Cents(1)} },
		"SELECT boat_id, sum(CAST(round(list * chance) AS INTEGER)) FROM outlooks WHERE asked_on = ? AND day < ? GROUP BY boat_id", on.String(), before.String())
	of := make(map[string]schedule.Cents, len(all))
	for _, s := range all {
		of[s.boat] = s.paid
	}
	return of, kernel.Wrap(err, "add up the plan as of %s by boat", on)
}

// OutlookDays are the days of which the plan is kept, in order. The question
// leaps from day to day by the key; DISTINCT would read every visit kept.
func OutlookDays(ctx context.Context, db *store.Reader) ([]civil.Day, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) civil.Day { return c.Day(0) }, `WITH RECURSIVE kept (day) AS (
			SELECT min(asked_on) FROM outlooks
			UNION ALL SELECT (SELECT min(asked_on) FROM outlooks WHERE asked_on > kept.day) FROM kept WHERE kept.day IS NOT NULL)
		SELECT day FROM kept WHERE day IS NOT NULL ORDER BY day`)
	return all, kernel.Wrap(err, "list the plans kept")
}

// The ways in which a season visit was spoken of; see [SeasonMark].
const (
	MarkNotified = "heard"  // What is the step
	MarkAnswer   = "answer" // What is the kind of answer
	MarkCall     = "call"   // What is the outcome
	MarkBooked   = "booked" // Day is the booked one
)

// SeasonMark is one thing that happened to a season visit before it was done.
type SeasonMark struct {
	BoatID, CustomerID string
	Way, What          string
	Day                civil.Day // of a booking or a letter
	At                 time.Time // of an answer or a call
}

// SeasonMarks returns what happened to the visits of a kind and season that
// were due on a day. A booking has no customer.
func SeasonMarks(ctx context.Context, db *store.Reader, on civil.Day, kind string, season int) ([]SeasonMark, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) SeasonMark {
		return SeasonMark{BoatID: c.Text(0), CustomerID: c.Text(1), Way: c.Text(2), What: c.Text(3), Day: c.Day(4), At: c.Instant(5)}
	}, `WITH due AS (SELECT boat_id, visit_id FROM outlooks WHERE asked_on = ? AND kind = ? AND season = ?)
		SELECT d.boat_id, h.customer_id, 'heard', h.step, h.on_day, NULL FROM due d JOIN heard h ON h.subject = d.visit_id
		UNION ALL SELECT d.boat_id, a.customer_id, 'answer', a.kind, NULL, a.at FROM due d
			JOIN answers a ON a.boat_id = d.boat_id AND a.boat_id <> '' AND a.visit_id = d.visit_id WHERE a.undone_at IS NULL
		UNION ALL SELECT d.boat_id, c.customer_id, 'call', c.outcome, NULL, c.at FROM due d
			JOIN calls c ON c.boat_id = d.boat_id AND c.boat_id <> '' AND c.visit_id = d.visit_id
		UNION ALL SELECT d.boat_id, '', 'booked', '', k.day, NULL FROM due d JOIN bookings k ON k.visit_id = d.visit_id`,
		on.String(), kind, season)
	return all, kernel.Wrap(err, "read what became of the %s visits of %d", kind, season)
}

// CallRequest is somebody of the shop wanting a customer called about a boat.
type CallRequest struct {
	CustomerID, BoatID string
	At                 time.Time
	Actor              string
	Why                string
}

// WishRing puts a customer on the call list about a boat. A wish that stands
// already takes the new words.
func WishRing(ctx context.Context, db *store.DB, now time.Time, w CallRequest) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tables.Customer(ctx, tx, w.CustomerID); err != nil {
			return err
		}
		if _, err := tables.Boat(ctx, tx, w.BoatID); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO to_ring (customer_id, boat_id, at, actor, why) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (customer_id, boat_id) DO UPDATE SET at = excluded.at, actor = excluded.actor, why = excluded.why`,
			w.CustomerID, w.BoatID, now.Unix(), w.Actor, w.Why)
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: w.Actor, What: "put on the call list", BoatID: w.BoatID, CustomerID: w.CustomerID, After: w.Why})
	})
	return kernel.Wrap(err, "put customer %q on the call list", w.CustomerID)
}

// CallRequests returns those that no logged call has answered yet, the
// oldest first. A call that nobody took, or that only left a message, answers
// none.
func CallRequests(ctx context.Context, db *store.Reader) ([]CallRequest, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) CallRequest {
		return CallRequest{CustomerID: c.Text(0), BoatID: c.Text(1), At: c.Instant(2), Actor: c.Text(3), Why: c.Text(4)}
	}, `SELECT w.customer_id, w.boat_id, w.at, w.actor, w.why FROM to_ring w
		WHERE NOT EXISTS (SELECT 1 FROM calls c WHERE c.customer_id = w.customer_id AND c.at >= w.at
		AND c.outcome NOT IN ('no-answer', 'message')) ORDER BY w.at, w.customer_id, w.boat_id`)
	return all, kernel.Wrap(err, "list whom to ring by wish")
}

// CallsWaiting counts the customers who asked for a call, or whom the owner wants
// called, and whom nobody has tried to call since.
func CallsWaiting(ctx context.Context, db *store.Reader) (int, error) {
	const untried = " AND NOT EXISTS (SELECT 1 FROM calls c WHERE c.customer_id = w.customer_id AND c.at >= w.at)"
	n, err := kernel.One(ctx, db.Read, kernel.FirstInt, `SELECT count(*) FROM (
		SELECT w.customer_id FROM answers w WHERE w.kind = 'call' AND w.undone_at IS NULL AND w.seen_at IS NULL`+untried+`
		UNION SELECT w.customer_id FROM to_ring w WHERE true`+untried+")")
	return int(n), kernel.Wrap(err, "count who waits for a call")
}
