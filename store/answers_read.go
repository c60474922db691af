package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// answerColumns are those of an answer in table a.
const answerColumns = `a.id, a.customer_id, a.boat_id, a.visit_id, a.kind, a.at, a.note, a.until_day,
	a.seen_at IS NOT NULL, a.kind = 'call' AND EXISTS (SELECT 1 FROM calls l WHERE l.customer_id = a.customer_id AND l.at >= a.at),
	iif(a.kind = 'take', coalesce(json_extract(a.changed, '$.is'), ''), '')`

// answerWidth is the number of answerColumns.
const answerWidth = 11

func readAnswer(c *kernel.Row) schedule.Answer {
	a := schedule.Answer{
		ID: c.Int(0), CustomerID: c.Text(1), BoatID: c.Text(2), VisitID: c.Text(3), Kind: schedule.AnswerKind(c.Text(4)),
		At: c.Instant(5), Note: c.Text(6), Until: c.Day(7), Seen: c.Bool(8), Called: c.Bool(9),
	}
	if made := c.Text(10); made != "" {
		var b schedule.Booking
		c.Note(json.Unmarshal([]byte(made), &b))
		a.Booked = b.When()
	}
	return a
}

// Answers returns the answers of these customers that stand and bear on what
// they are told, by customer and in order of time; ids nil means all. Of the
// answers about one visit only the newest counts, but a request for a call stands
// beside it until it is seen to.
func (db *Reader) Answers(ctx context.Context, customerIDs []string) (map[string][]schedule.Answer, error) {
	all, err := standingAnswers(ctx, db.Read, customerIDs)
	if err != nil {
		return nil, fmt.Errorf("read the answers: %w", err)
	}
	by := make(map[string][]schedule.Answer)
	for _, a := range all {
		by[a.CustomerID] = append(by[a.CustomerID], a)
	}
	return by, nil
}

func standingAnswers(ctx context.Context, q kernel.Querier, customerIDs []string) ([]schedule.Answer, error) {
	return kernel.Collect(ctx, q, readAnswer, "SELECT "+answerColumns+" FROM answers a WHERE "+kernel.AmongCustomers(customerIDs)+` AND a.undone_at IS NULL
		AND (a.kind = 'sold' AND a.seen_at IS NULL OR a.kind IN `+ReplyKinds+`)
		AND (a.kind = 'call' AND a.seen_at IS NULL OR NOT EXISTS (SELECT 1 FROM answers n WHERE n.customer_id = a.customer_id AND n.visit_id = a.visit_id AND n.visit_id <> ''
			AND n.id > a.id AND n.undone_at IS NULL AND n.kind IN `+ReplyKinds+`))
		ORDER BY a.id`, kernel.IDList(customerIDs))
}

// RecentAnswer is an answer as the customer sees it on their page.
type RecentAnswer struct {
	schedule.Answer
	Booking *schedule.Booking // take: the day taken; cancel: the day given up
	Effect  AnswerEffect      // what it changed
	CanUndo bool              // it may still be taken back
}

// RecentAnswers returns what a customer answered since a moment and did not
// take back, the newest first, each with whether it can still be taken back.
func (db *Reader) RecentAnswers(ctx context.Context, now time.Time, today civil.Day, customerID string, since time.Time) ([]RecentAnswer, error) {
	var all []RecentAnswer
	err := db.Snapshot(ctx, func(tx *sql.Tx) error {
		ids, err := kernel.Collect(ctx, tx, kernel.FirstInt,
			"SELECT id FROM answers WHERE customer_id = ? AND at >= ? AND undone_at IS NULL ORDER BY id DESC LIMIT 50", customerID, since.Unix())
		if err != nil {
			return err
		}
		for _, id := range ids {
			r, err := recentAnswer(ctx, tx, now, today, customerID, id)
			if err != nil {
				return err
			}
			all = append(all, r)
		}
		return nil
	})
	return all, kernel.Wrap(err, "answers of customer %q", customerID)
}

func recentAnswer(ctx context.Context, q kernel.Querier, now time.Time, today civil.Day, customerID string, id int64) (RecentAnswer, error) {
	k, err := answerByID(ctx, q, customerID, id)
	if err != nil {
		return RecentAnswer{}, err
	}
	r := RecentAnswer{Answer: k.Answer, Booking: k.effect.Is, Effect: k.effect}
	if r.Booking == nil {
		r.Booking = k.effect.Was
	}
	err = undoable(ctx, q, now, today, &k)
	r.CanUndo = err == nil
	if errors.Is(err, ErrRefused) || errors.Is(err, ErrNotFound) {
		err = nil
	}
	return r, err
}

// Answer returns one answer of a customer; [ErrNotFound] if it is not theirs or
// was taken back.
func (db *Reader) Answer(ctx context.Context, now time.Time, today civil.Day, customerID string, id int64) (RecentAnswer, error) {
	var r RecentAnswer
	err := db.Snapshot(ctx, func(tx *sql.Tx) error {
		k, err := answerByID(ctx, tx, customerID, id)
		if err == nil && k.undone {
			err = ErrNotFound
		}
		if err != nil {
			return err
		}
		r, err = recentAnswer(ctx, tx, now, today, customerID, id)
		return err
	})
	return r, kernel.Wrap(err, "answer %d", id)
}

// SoldBoat reports whether a boat's owner says that it is sold, and nobody of
// the shop has looked at it yet.
func (db *Reader) SoldBoat(ctx context.Context, boatID string) (bool, error) {
	ok, err := kernel.Exists(ctx, db.Read, `SELECT 1 FROM answers a
		JOIN ownerships o ON o.boat_id = a.boat_id AND o.customer_id = a.customer_id AND o.to_day IS NULL
		WHERE a.boat_id = ? AND a.kind = 'sold' AND a.undone_at IS NULL AND a.seen_at IS NULL LIMIT 1`, boatID)
	return ok, kernel.Wrap(err, "whether boat %q is sold", boatID)
}

// OpenAnswer is an answer as the desk reads it.
type OpenAnswer struct {
	schedule.Answer
	Boat     schedule.Boat // without an id if it is about none
	Customer schedule.Customer
	AnswerEffect
}

// openAnswer holds for an answer of table a that the desk must see to and nobody
// has yet: a request for a call, what speaks against a booking, and word of a
// sale while the boat is still theirs by the file.
const openAnswer = `a.undone_at IS NULL AND a.seen_at IS NULL AND (a.kind = 'call'
	OR a.kind <> 'sold' AND json_extract(a.changed, '$.against') IS NOT NULL
	OR a.kind = 'sold' AND EXISTS (SELECT 1 FROM ownerships o WHERE o.boat_id = a.boat_id AND o.customer_id = a.customer_id AND o.to_day IS NULL))`

// CountOpenAnswers counts what [DB.OpenAnswers] returns of all kinds.
func (db *Reader) CountOpenAnswers(ctx context.Context) (int, error) {
	n, err := kernel.One(ctx, db.Read, func(c *kernel.Row) int { return int(c.Int(0)) }, "SELECT count(*) FROM answers a WHERE "+openAnswer)
	return n, kernel.Wrap(err, "count open answers")
}

// OpenAnswers returns the answers of a kind, "" for all, that the desk has yet to
// see to, the oldest first, at most limit.
func (db *Reader) OpenAnswers(ctx context.Context, kind schedule.AnswerKind, limit int) ([]OpenAnswer, error) {
	all, err := kernel.Collect(ctx, db.Read, readOpenAnswer, "SELECT "+openAnswerColumns()+
		" WHERE (?1 = '' OR a.kind = ?1) AND "+openAnswer+" ORDER BY a.id LIMIT ?2", string(kind), kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "open answers %q", kind)
}

// openAnswerColumns are what [readOpenAnswer] reads, and where from.
func openAnswerColumns() string {
	return answerColumns + ", a.changed, " + kernel.Column("c", tables.CustomerColumns) + ", " + kernel.Column("b", tables.BoatColumns) +
		" FROM answers a JOIN customers c ON c.id = a.customer_id LEFT JOIN boats b ON b.id = a.boat_id"
}

func readOpenAnswer(c *kernel.Row) OpenAnswer {
	o := OpenAnswer{Answer: readAnswer(c)}
	c.Skip(answerWidth)
	c.Note(json.Unmarshal([]byte(c.Text(0)), &o.AnswerEffect))
	c.Skip(1)
	o.Customer = tables.ReadCustomer(c)
	c.Skip(tables.CustomerWidth)
	if !c.Null(0) {
		o.Boat = tables.ReadBoat(c)
	}
	return o
}

// AnswersSince returns what all customers answered since a moment and did not
// take back, the newest first, at most limit.
func (db *Reader) AnswersSince(ctx context.Context, since time.Time, limit int) ([]OpenAnswer, error) {
	all, err := kernel.Collect(ctx, db.Read, readOpenAnswer, "SELECT "+openAnswerColumns()+` WHERE a.at >= ? AND a.undone_at IS NULL
		ORDER BY a.id DESC LIMIT ?`, since.Unix(), kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "answers since %s", since)
}

// SeeToAnswer writes down that somebody of the shop saw to an answer; it can no
// longer be taken back.
func (db *DB) SeeToAnswer(ctx context.Context, now time.Time, actor string, id int64) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return SeeToAnswers(ctx, tx, now, actor, "id = ?", id) })
	return kernel.Wrap(err, "see to answer %d", id)
}

// SeeToAnswers marks the open answers that a condition selects.
func SeeToAnswers(ctx context.Context, tx kernel.Querier, now time.Time, actor, where string, args ...any) error {
	all, err := kernel.Collect(ctx, tx, func(c *kernel.Row) schedule.Answer {
		return schedule.Answer{ID: c.Int(0), CustomerID: c.Text(1), BoatID: c.Text(2), Kind: schedule.AnswerKind(c.Text(3)), Seen: true}
	}, "UPDATE answers SET seen_at = ?, seen_by = ? WHERE undone_at IS NULL AND seen_at IS NULL AND "+where+
		" RETURNING id, customer_id, boat_id, kind", append([]any{now.Unix(), actor}, args...)...)
	if err != nil {
		return err
	}
	for _, a := range all {
		if err := kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "handle a reply", BoatID: a.BoatID, CustomerID: a.CustomerID, After: a}); err != nil {
			return err
		}
	}
	return nil
}

// DeclinedVisits returns the visits of these boats that their owners do not
// want, unless they took it back or said something else since; ids nil means
// all.
func (db *Reader) DeclinedVisits(ctx context.Context, boatIDs []string) (map[string]bool, error) {
	const query = `SELECT visit_id FROM answers a
		WHERE kind = 'decline' AND undone_at IS NULL AND visit_id <> '' AND NOT EXISTS (SELECT 1 FROM answers t
			WHERE t.customer_id = a.customer_id AND t.visit_id = a.visit_id AND t.kind IN ('take', 'later', 'call') AND t.undone_at IS NULL AND t.id > a.id)`
	text := kernel.FirstText
	var ids []string
	var err error
	if boatIDs == nil {
		ids, err = kernel.Collect(ctx, db.Read, text, query)
	} else {
		ids, err = kernel.Collect(ctx, db.Read, text, query+" AND a.boat_id <> '' AND a.boat_id IN (SELECT value FROM json_each(?))", kernel.IDList(boatIDs))
	}
	declined := make(map[string]bool, len(ids))
	for _, id := range ids {
		declined[id] = true
	}
	return declined, kernel.Wrap(err, "read the declined visits")
}

// AnswersOf returns what a customer answered and did not take back, the newest
// first, at most limit.
func (db *Reader) AnswersOf(ctx context.Context, customerID string, limit int) ([]OpenAnswer, error) {
	all, err := kernel.Collect(ctx, db.Read, readOpenAnswer, "SELECT "+openAnswerColumns()+` WHERE a.customer_id = ? AND a.undone_at IS NULL
		ORDER BY a.id DESC LIMIT ?`, customerID, kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "answers of customer %q", customerID)
}
