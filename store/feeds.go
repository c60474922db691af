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

// The scopes of a calendar feed. Its subject is the id of the boat or the
// customer, "" for the desk.
const (
	FeedBoat     = "boat"
	FeedCustomer = "customer"
	FeedDesk     = "desk"
)

// FeedState is what an address and a conditional request are checked against.
type FeedState struct {
	// Generation is the only one whose address works; earlier ones were revoked.
	Generation int
	// ChangedAt never goes back and rises with every change of the feed; zero
	// for a feed that never held anything.
	ChangedAt time.Time
}

// FeedState returns the state of a feed; [ErrNotFound] if there is no such boat
// or customer.
func (db *Reader) FeedState(ctx context.Context, scope, subject string) (FeedState, error) {
	s, err := feedState(ctx, db.Read, scope, subject)
	if err != nil {
		return s, fmt.Errorf("%s feed %q: %w", scope, subject, err)
	}
	return s, nil
}

func feedState(ctx context.Context, q kernel.Querier, scope, subject string) (FeedState, error) {
	s, err := kernel.One(ctx, q, func(c *kernel.Row) FeedState { return FeedState{int(c.Int(0)), c.Instant(1)} },
		"SELECT generation, changed_at FROM feeds WHERE scope = ? AND subject = ?", scope, subject)
	if err != ErrNotFound {
		return s, err
	}
	switch scope {
	case FeedBoat:
		_, err = tables.Boat(ctx, q, subject)
	case FeedCustomer:
		_, err = tables.Customer(ctx, q, subject)
	case FeedDesk:
		err = nil
	}
	return FeedState{Generation: 1}, err
}

// RevokeFeed makes the present address of a feed stop working and returns the
// generation of the next one. A customer's emails that wait name the old one: they
// are withdrawn.
func (db *DB) RevokeFeed(ctx context.Context, now time.Time, actor, scope, subject string) (generation int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		if generation, err = BumpFeed(ctx, tx, now, scope, subject); err != nil {
			return err
		}
		e := kernel.Entry{Actor: actor, What: "revoke the " + scope + " feed"}
		switch scope {
		case FeedBoat:
			e.BoatID = subject
		case FeedCustomer:
			e.CustomerID = subject
			if _, err := Withdraw(ctx, tx, now, "the link in it was replaced", "customer_id = ?3", subject); err != nil {
				return err
			}
			if err := owe(ctx, tx, now, Owed{Step: schedule.StepNewLink, CustomerID: subject}); err != nil {
				return err
			}
			_, err := tx.ExecContext(ctx, "INSERT OR IGNORE INTO unpublished (boat_id) SELECT boat_id FROM ownerships WHERE customer_id = ? AND to_day IS NULL", subject)
			if err != nil {
				return err
			}
		}
		return kernel.Audit(ctx, tx, now, e)
	})
	return generation, kernel.Wrap(err, "revoke the %s feed %q", scope, subject)
}

// NoteFetch writes down that a calendar program asked for a feed on a day.
func (db *DB) NoteFetch(ctx context.Context, scope, subject string, day civil.Day) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO feed_fetches (scope, subject, day) VALUES (?, ?, ?)
			ON CONFLICT (scope, subject) DO UPDATE SET day = max(day, excluded.day)`, scope, subject, day.String())
		return err
	})
	return kernel.Wrap(err, "note who fetched the %s feed %q", scope, subject)
}

func BumpFeed(ctx context.Context, tx kernel.Querier, now time.Time, scope, subject string) (int, error) {
	// Whoever followed the old address follows nothing any more.
	if _, err := tx.ExecContext(ctx, "DELETE FROM feed_fetches WHERE scope = ? AND subject = ?", scope, subject); err != nil {
		return 0, err
	}
	if _, err := feedState(ctx, tx, scope, subject); err != nil {
		return 0, err
	}
	n, err := kernel.One(ctx, tx, kernel.FirstInt, `INSERT INTO feeds (scope, subject, generation, changed_at) VALUES (?, ?, 2, ?)
		ON CONFLICT (scope, subject) DO UPDATE SET generation = generation + 1, changed_at = max(changed_at + 1, excluded.changed_at)
		RETURNING generation`, scope, subject, now.Unix())
	return int(n), err
}

// TouchFeed notes that a feed changed. Its moment rises by a whole second at
// least, because that is all that Last-Modified can tell apart.
func TouchFeed(ctx context.Context, tx kernel.Querier, now time.Time, scope, subject string) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO feeds (scope, subject, changed_at) VALUES (?, ?, ?)
		ON CONFLICT (scope, subject) DO UPDATE SET changed_at = max(changed_at + 1, excluded.changed_at)`, scope, subject, now.Unix())
	return kernel.Wrap(err, "touch the %s feed %q", scope, subject)
}

// feedQueries select the live events of a feed whose first day lies in a range.
// The events of a customer are those of the boats owned now.
func feedQuery(scope string) string {
	const tail = " AND e.live = 1 AND e.start_day BETWEEN ? AND ? ORDER BY e.start_day, e.uid LIMIT ?"
	switch scope {
	case FeedBoat:
		return "SELECT e.body FROM feed_events e WHERE e.boat_id = ?" + tail
	case FeedCustomer:
		return "SELECT e.body FROM ownerships o JOIN feed_events e ON e.boat_id = o.boat_id WHERE o.customer_id = ? AND o.to_day IS NULL" + tail
	}
	return "SELECT coalesce(e.desk, e.body) FROM feed_events e WHERE ? = ''" + tail
}

// FeedEvents returns the written events of a feed that begin in from..to, at
// most limit of them, in order of first day and uid, and the moment of the
// feed's last change, all as of one moment.
func (db *Reader) FeedEvents(ctx context.Context, scope, subject string, from, to civil.Day, limit int) (bodies [][]byte, changedAt time.Time, err error) {
	err = db.Snapshot(ctx, func(tx *sql.Tx) error {
		s, err := feedState(ctx, tx, scope, subject)
		if err != nil {
			return err
		}
		changedAt = s.ChangedAt
		bodies, err = kernel.Collect(ctx, tx, kernel.FirstBlob, feedQuery(scope), subject, from.String(), kernel.LastDay(to), kernel.LimitOr(limit))
		return err
	})
	return bodies, changedAt, kernel.Wrap(err, "%s feed %q", scope, subject)
}
