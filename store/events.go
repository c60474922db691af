package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// Event is one calendar event of a boat. Hash is over everything that it shows;
// Render writes it out with the number and the moment that the store has given
// to this change, and is called only when Hash is a new one. It must not use
// the store.
type Event struct {
	UID    string
	Hash   string
	Start  civil.Day
	Render func(sequence int, changed time.Time) ([]byte, error)
	// Desk writes it as the desk reads it, if that is otherwise: its owner's
	// language is not the desk's. nil is as Render.
	Desk func(sequence int, changed time.Time) ([]byte, error)
}

// BoatEvents are all events of one boat.
type BoatEvents struct {
	BoatID string
	Events []Event
}

// SyncEvents makes the stored events of some boats what they should be, in one
// transaction. An event whose hash is as before keeps its bytes, sequence and
// moment; a new or changed one gets the next sequence and a later moment; one
// that is not named any more leaves the feed, and its sequence is kept in case
// it returns. The feeds of the boats, of their owners and of the desk are then
// marked as changed. It returns how many events changed or left.
func (db *DB) SyncEvents(ctx context.Context, now time.Time, boats ...BoatEvents) (changed int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		p := db.Write.Prepared(tx)
		defer p.Close()
		changed = 0
		owners, ids := map[string]bool{}, make([]string, len(boats))
		for i, b := range boats {
			ids[i] = b.BoatID
			n, err := syncBoat(ctx, p, now, b)
			if err != nil {
				return fmt.Errorf("events of boat %q: %w", b.BoatID, err)
			}
			if n == 0 {
				continue
			}
			changed += n
			if err := touchBoatFeeds(ctx, p, now, b.BoatID, owners); err != nil {
				return err
			}
		}
		if _, err := p.ExecContext(ctx, "DELETE FROM unpublished WHERE boat_id IN (SELECT value FROM json_each(?))", kernel.IDList(ids)); err != nil {
			return err
		}
		if changed == 0 {
			return nil
		}
		return TouchFeed(ctx, p, now, FeedDesk, "")
	})
	return changed, err
}

// toPublish notes that the calendars of some boats are to be written. [DB.SyncEvents]
// takes them off.
func toPublish(ctx context.Context, q kernel.Querier, boatIDs []string) error {
	_, err := q.ExecContext(ctx, "INSERT OR IGNORE INTO unpublished (boat_id) SELECT value FROM json_each(?)", kernel.IDList(boatIDs))
	return kernel.Wrap(err, "note which calendars are to be written")
}

// Unpublished returns the boats whose plans, weeks or links changed and whose calendars
// have not been written since: somebody is at it, or was stopped in between.
func (db *Reader) Unpublished(ctx context.Context) ([]string, error) {
	ids, err := kernel.Collect(ctx, db.Read, kernel.FirstText, "SELECT boat_id FROM unpublished ORDER BY boat_id")
	return ids, kernel.Wrap(err, "list the calendars to be written")
}

// SequenceJump is more changes than one event or appointment can have had between the
// moment of a copy of the file and the moment at which it takes the file's place.
const SequenceJump = 1000

// JumpSequences is for a file that is older than what calendars were told: every
// event is written again with a number beyond those, so that nothing that was published
// meanwhile looks newer. All boats are marked for that.
func (db *DB) JumpSequences(ctx context.Context) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "UPDATE feed_events SET sequence = sequence + ?, hash = ''", SequenceJump); err != nil {
			return err
		}
		version, err := kernel.NextVersion(ctx, tx)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO dirty (boat_id, version) SELECT DISTINCT boat_id, ? FROM feed_events WHERE live = 1
			ON CONFLICT (boat_id) DO UPDATE SET version = excluded.version`, version)
		return err
	})
	return kernel.Wrap(err, "raise the numbers of calendar events")
}

// touchBoatFeeds touches a boat's feed and, once a transaction, its owner's.
func touchBoatFeeds(ctx context.Context, q kernel.Querier, now time.Time, boatID string, done map[string]bool) error {
	if err := TouchFeed(ctx, q, now, FeedBoat, boatID); err != nil {
		return err
	}
	owner, err := kernel.One(ctx, q, kernel.FirstText,
		"SELECT customer_id FROM ownerships WHERE boat_id = ? AND to_day IS NULL", boatID)
	owned, err := kernel.Found(err)
	if err != nil || !owned || done[owner] {
		return err
	}
	done[owner] = true
	return TouchFeed(ctx, q, now, FeedCustomer, owner)
}

// stored is an event as it was last written.
type stored struct {
	uid, hash string
	sequence  int
	changed   int64
	live      bool
}

func syncBoat(ctx context.Context, q kernel.Querier, now time.Time, b BoatEvents) (changed int, err error) {
	all, err := kernel.Collect(ctx, q, func(c *kernel.Row) stored {
		return stored{c.Text(0), c.Text(1), int(c.Int(2)), c.Int(3), c.Bool(4)}
	}, "SELECT uid, hash, sequence, changed_at, live FROM feed_events WHERE boat_id = ?", b.BoatID)
	if err != nil {
		return 0, err
	}
	was := make(map[string]stored, len(all))
	for _, s := range all {
		was[s.uid] = s
	}
	for _, e := range b.Events {
		old, known := was[e.UID]
		delete(was, e.UID)
		if known && old.live && old.hash == e.Hash {
			continue
		}
		if err := writeEvent(ctx, q, now, b.BoatID, e, old, known); err != nil {
			return 0, fmt.Errorf("event %q: %w", e.UID, err)
		}
		changed++
	}
	for _, s := range was {
		if !s.live {
			continue
		}
		if _, err := q.ExecContext(ctx, "UPDATE feed_events SET live = 0 WHERE boat_id = ? AND uid = ?", b.BoatID, s.uid); err != nil {
			return 0, fmt.Errorf("event %q: %w", s.uid, err)
		}
		changed++
	}
	return changed, nil
}

func writeEvent(ctx context.Context, q kernel.Querier, now time.Time, boatID string, e Event, old stored, known bool) error {
	sequence, at := 0, now.Unix()
	if known {
		sequence, at = old.sequence+1, max(old.changed+1, at)
	}
	body, err := e.Render(sequence, time.Unix(at, 0).UTC())
	if err != nil {
		return err
	}
	var desk any
	if e.Desk != nil {
		if desk, err = e.Desk(sequence, time.Unix(at, 0).UTC()); err != nil {
			return err
		}
	}
	_, err = q.ExecContext(ctx, `INSERT INTO feed_events (boat_id, uid, hash, sequence, changed_at, start_day, live, body, desk) VALUES (?, ?, ?, ?, ?, ?, 1, ?, ?)
		ON CONFLICT (boat_id, uid) DO UPDATE SET hash = excluded.hash, sequence = excluded.sequence, changed_at = excluded.changed_at,
		start_day = excluded.start_day, live = 1, body = excluded.body, desk = excluded.desk`, boatID, e.UID, e.Hash, sequence, at, e.Start.String(), body, desk)
	return err
}
