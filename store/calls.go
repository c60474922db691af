package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// The outcomes of ringing a customer.
const (
	CallNoAnswer  = "no-answer"
	CallMessage   = "message" // left one
	CallRingsBack = "rings-back"
	CallThinks    = "thinks" // wants to think about it
	CallDeclined  = "declined"
	CallBooked    = "booked"
	CallSettled   = "settled" // talked it over, and nothing more is to be done
)

// Call is one call to a customer and what came of it.
type Call struct {
	Form       string // names the form it comes from, which is taken once; "" for none
	ID         int64  // 0 for one that is not written down yet
	At         time.Time
	Actor      string
	CustomerID string
	BoatID     string // "" if it was about no boat
	VisitID    string // "" if it was about no visit
	Outcome    string
	Note       string
	// Until has reminders of the visit rest until a day, for one who wants to
	// think about it.
	Until civil.Day
}

const callColumns = "at, actor, customer_id, boat_id, visit_id, outcome, note, id"

func readCall(c *kernel.Row) Call {
	return Call{
		At: c.Instant(0), Actor: c.Text(1), CustomerID: c.Text(2), BoatID: c.Text(3), VisitID: c.Text(4),
		Outcome: c.Text(5), Note: c.Text(6), ID: c.Int(7),
	}
}

// settles reports whether somebody talked with the customer, so that a request
// for a call is settled: one who was not reached, or will call back, still waits.
func settles(outcome string) bool {
	return outcome == CallThinks || outcome == CallDeclined || outcome == CallBooked || outcome == CallSettled
}

// LogCall writes a call down, and what it settles: the customer's requests for a
// call, if somebody talked with them. What the customer said about a visit that is still
// planned counts as their answer to it: whoever said no on the telephone is not
// asked again by mail, and the visit's hours are free.
func (db *DB) LogCall(ctx context.Context, now time.Time, c Call) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if c.Form != "" {
			if err := TakeForm(ctx, tx, now, c.Form); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO calls ("+callColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, NULL)",
			now.Unix(), c.Actor, c.CustomerID, c.BoatID, c.VisitID, c.Outcome, c.Note)
		if err != nil {
			return err
		}
		if err := answerByCall(ctx, tx, now, &c); err != nil {
			return err
		}
		if settles(c.Outcome) {
			if err := SeeToAnswers(ctx, tx, now, c.Actor, "kind = 'call' AND customer_id = ?", c.CustomerID); err != nil {
				return err
			}
		}
		after := map[string]string{"outcome": c.Outcome, "visit": c.VisitID, "note": c.Note}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: c.Actor, What: "call note", BoatID: c.BoatID, CustomerID: c.CustomerID, After: after})
	})
	return kernel.Wrap(err, "log a call to customer %q", c.CustomerID)
}

// StillBooked says that a visit is booked for a day, so that its customer cannot
// have put it off or declined it: the day must be given up first.
type StillBooked struct{ Booking schedule.Booking }

func (e *StillBooked) Error() string {
	return fmt.Sprintf("the visit is booked for %s; take the booking off first", e.Booking.When())
}

func (e *StillBooked) Unwrap() error { return ErrRefused }

// answerByCall writes down the answer that was given in a call, seen already; none
// if the call was about no visit, or about one that is past or another's by now.
func answerByCall(ctx context.Context, tx kernel.Querier, now time.Time, c *Call) error {
	n := NewAnswer{Answer: schedule.Answer{CustomerID: c.CustomerID, BoatID: c.BoatID, VisitID: c.VisitID, Note: c.Note, Until: c.Until}}
	switch {
	case c.VisitID == "":
		return nil
	case c.Outcome == CallDeclined:
		n.Kind, n.Until = schedule.AnswerDecline, 0
	case c.Outcome == CallThinks && c.Until != 0:
		n.Kind = schedule.AnswerLater
	default:
		return nil
	}
	if err := checkAnswer(ctx, tx, &n); errors.Is(err, ErrNotFound) {
		return nil
	} else if err != nil {
		return err
	}
	if b, err := bookingOrNone(ctx, tx, c.VisitID); err != nil {
		return err
	} else if b != nil {
		return &StillBooked{*b}
	}
	a, err := insertAnswer(ctx, tx, now, c.Actor, &n, AnswerEffect{})
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE answers SET seen_at = ?, seen_by = ? WHERE id = ?", now.Unix(), c.Actor, a.ID)
	return err
}

// CallsTo returns the newest calls to a customer, newest first.
func (db *Reader) CallsTo(ctx context.Context, customerID string, limit int) ([]Call, error) {
	all, err := kernel.Collect(ctx, db.Read, readCall, "SELECT "+callColumns+" FROM calls WHERE customer_id = ? ORDER BY id DESC LIMIT ?",
		customerID, kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "calls to customer %q", customerID)
}

// CallsOf returns the newest calls to customers, by customer, newest first, at
// most so many of each.
func (db *Reader) CallsOf(ctx context.Context, customerIDs []string, each int) (map[string][]Call, error) {
	all, err := kernel.Collect(ctx, db.Read, readCall, "SELECT "+callColumns+` FROM (SELECT *, row_number() OVER (PARTITION BY customer_id ORDER BY id DESC) AS n
		FROM calls WHERE customer_id IN (SELECT value FROM json_each(?))) WHERE n <= ? ORDER BY customer_id, n`, kernel.IDList(customerIDs), each)
	by := make(map[string][]Call)
	for _, c := range all {
		by[c.CustomerID] = append(by[c.CustomerID], c)
	}
	return by, kernel.Wrap(err, "calls to customers")
}

// CallCandidates returns ids of customers whom the call list might name: those whom
// email does not reach and who own a boat with an open visit planned until a day,
// and those who were reminded by email. First comes whose visits go before
// others when weeks are short, then whose deadline is the earliest. Visits of lapsed
// boats are looked at by themselves. Whether somebody is to be called is for the
// policy to say.
func (db *Reader) CallCandidates(ctx context.Context, until time.Time, lapsed bool, limit int) ([]string, error) {
	ids, err := kernel.Collect(ctx, db.Read, kernel.FirstText, `SELECT c.id FROM customers c
		LEFT JOIN suppressions s ON s.address = lower(c.email)
		JOIN ownerships o ON o.customer_id = c.id AND o.to_day IS NULL
		JOIN visits v ON v.boat_id = o.boat_id AND v.day <= ?1 AND v.lapsed = ?3 AND NOT EXISTS (SELECT 1 FROM bookings k WHERE k.visit_id = v.id)
		WHERE c.contact_by <> 'none'
			AND (c.contact_by = 'phone' OR c.email = '' OR s.address IS NOT NULL
				OR EXISTS (SELECT 1 FROM opt_outs u WHERE u.customer_id = c.id)
				OR EXISTS (SELECT 1 FROM answers a WHERE a.customer_id = c.id AND a.kind = 'decline' AND a.undone_at IS NULL)
				OR EXISTS (SELECT 1 FROM heard h WHERE h.customer_id = c.id AND h.step IN ('first-reminder', 'second-reminder', 'final-reminder', 'overdue-notice')))
		GROUP BY c.id ORDER BY max(v.priority) DESC, min(v.deadline), c.id LIMIT ?2`, until.Format(time.DateOnly), kernel.LimitOr(limit), kernel.BoolArg(lapsed))
	return ids, kernel.Wrap(err, "list whom to call")
}

// Asked is a boat of which the desk is to ask its owner whether its lay-up was
// done ([schedule.BasisAsk]).
type Asked struct {
	BoatID     string
	CustomerID string
	Season     int
}

// AskedBoats returns the boats to ask about that have an owner, in order and
// beginning after one.
func (db *Reader) AskedBoats(ctx context.Context, after string, limit int) ([]Asked, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Asked { return Asked{c.Text(0), c.Text(1), int(c.Int(2))} },
		`SELECT d.boat_id, o.customer_id, max(d.season) FROM due_items d JOIN ownerships o ON o.boat_id = d.boat_id AND o.to_day IS NULL
		WHERE d.basis = 'ask' AND d.boat_id > ?1 GROUP BY d.boat_id ORDER BY d.boat_id LIMIT ?2`, after, kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "list the boats to ask about")
}

// VisitNote is what a customer said about a visit.
type VisitNote struct {
	At      time.Time
	Actor   string // who wrote it down
	BoatID  string
	VisitID string
	Words   string
}

// AddVisitNote writes down what a customer said about a visit.
func (db *DB) AddVisitNote(ctx context.Context, now time.Time, s VisitNote) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if s.Words == "" || s.VisitID == "" {
			return fmt.Errorf("it needs a visit and words: %w", ErrRefused)
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO said (at, actor, boat_id, visit_id, words) VALUES (?, ?, ?, ?, ?)",
			now.Unix(), s.Actor, s.BoatID, s.VisitID, s.Words)
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: s.Actor, What: "note what the customer said", BoatID: s.BoatID, After: s.Words})
	})
	return kernel.Wrap(err, "note on visit %q", s.VisitID)
}

// VisitNotes returns what the customer said about a visit, in order.
func (db *Reader) VisitNotes(ctx context.Context, boatID, visitID string) ([]VisitNote, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) VisitNote {
		return VisitNote{At: c.Instant(0), Actor: c.Text(1), BoatID: c.Text(2), VisitID: c.Text(3), Words: c.Text(4)}
	}, "SELECT at, actor, boat_id, visit_id, words FROM said WHERE boat_id = ? AND visit_id = ? ORDER BY id", boatID, visitID)
	return all, kernel.Wrap(err, "notes on visit %q", visitID)
}
