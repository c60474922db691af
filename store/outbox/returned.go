package outbox

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// ReturnedMail is a message that came back about a letter: a bounce, a complaint,
// an automatic reply. What it means has been decided by whoever read it.
type ReturnedMail struct {
	Hash       []byte // SHA-256 of the message: each is taken once
	Kind       string
	OutboxID   int64 // 0 if it names no letter of ours
	CustomerID string
	BoatIDs    []string       // whose pages are to show it
	Address    string         // that the letter went to
	Why        string         // in words
	Suppress   bool           // the address is dead
	Pause      bool           // our fault: nothing more is sent until a person has looked
	Brake      schedule.Brake // with a reason it pauses the queue and nobody is suppressed
}

// TakeReturned writes a returned message down together with all that follows
// from it. It reports false, and does nothing, for one that was taken before.
func TakeReturned(ctx context.Context, db *store.DB, now time.Time, actor string, r ReturnedMail) (taken bool, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, `INSERT INTO returned (hash, at, kind, letter_id, address, why) VALUES (?, ?, ?, nullif(?, 0), ?, ?)
			ON CONFLICT DO NOTHING`, r.Hash, now.Unix(), r.Kind, r.OutboxID, strings.ToLower(r.Address), r.Why)
		n, err := kernel.Affected(res, err)
		if taken = n > 0; err != nil || !taken {
			return err
		}
		return returnedEffects(ctx, tx, now, actor, &r)
	})
	return taken, kernel.Wrap(err, "take a returned message")
}

func returnedEffects(ctx context.Context, tx *sql.Tx, now time.Time, actor string, r *ReturnedMail) error {
	if r.Suppress {
		if err := suppress(ctx, tx, r.Address, r.Why, now); err != nil {
			return err
		}
	}
	if r.Brake.Why != "" {
		if err := brake(ctx, tx, r.Brake, now); err != nil {
			return err
		}
	}
	if r.Pause {
		if err := pause(ctx, tx, r.Why, time.Time{}); err != nil {
			return err
		}
	}
	if r.OutboxID == 0 {
		return nil
	}
	after := map[string]any{"letter": r.OutboxID, "kind": r.Kind, "address": r.Address, "why": r.Why}
	for _, boat := range append(r.BoatIDs, "")[:max(1, len(r.BoatIDs))] {
		if err := kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "email came back", BoatID: boat, CustomerID: r.CustomerID, After: after}); err != nil {
			return err
		}
	}
	return nil
}

// ByMessageID returns the letter of that Message-ID, without its bytes.
func ByMessageID(ctx context.Context, db *store.Reader, messageID string) (schedule.Message, error) {
	l, err := kernel.One(ctx, db.Read, readMessage, "SELECT "+letterColumns+" FROM outbox WHERE message_id = ? ORDER BY id DESC LIMIT 1", messageID)
	return l, kernel.Wrap(err, "letter <%s>", messageID)
}

// ReturnedFrom counts how many different letters to an address, one aside, came
// back from a moment on for a reason that passes or that is not said, and since when.
func ReturnedFrom(ctx context.Context, db *store.Reader, address string, from time.Time, aside int64) (letters int, since time.Time, err error) {
	type row struct {
		n     int64
		first time.Time
	}
	r, err := kernel.One(ctx, db.Read, func(c *kernel.Row) row { return row{c.Int(0), c.Instant(1)} },
		"SELECT count(DISTINCT letter_id), min(at) FROM returned WHERE address = ? AND kind IN ('soft', 'unclear') AND at >= ? AND letter_id <> ?",
		strings.ToLower(address), from.Unix(), aside)
	return int(r.n), r.first, kernel.Wrap(err, "count what came back from %q", address)
}

// LatelySent lists what a mail server took from a moment on, in that order, and
// what of it came back as dead, but for that of which the desk has said what it was.
func LatelySent(ctx context.Context, db *store.Reader, from time.Time) ([]schedule.SentMessage, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) schedule.SentMessage {
		return schedule.SentMessage{ID: c.Int(0), To: c.Text(1), Dead: c.Bool(2), Doubted: c.Bool(3)}
	}, `SELECT id, lower(to_address), EXISTS (SELECT 1 FROM returned r WHERE r.letter_id = outbox.id AND r.kind = 'dead' AND NOT r.judged), verdict = 'doubted'
		FROM outbox WHERE dot_at >= ? AND state IN ('sent', 'uncertain') ORDER BY dot_at, id`, from.Unix())
	return all, kernel.Wrap(err, "list what was sent lately")
}

// ReturnedTo lists the addresses whose letters came back as one of a kind between
// two moments, one for each letter.
func ReturnedTo(ctx context.Context, db *store.Reader, kind string, from, until time.Time) ([]string, error) {
	all, err := kernel.Collect(ctx, db.Read, kernel.FirstText,
		"SELECT address FROM returned WHERE kind = ? AND at BETWEEN ? AND ? AND letter_id IS NOT NULL GROUP BY letter_id, address",
		kind, from.Unix(), until.Unix())
	return all, kernel.Wrap(err, "list what came back")
}

// ReturnedCounts counts what came back, by kind.
func ReturnedCounts(ctx context.Context, db *store.Reader) (map[string]int, error) {
	type count struct {
		kind string
		n    int64
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) count { return count{c.Text(0), c.Int(1)} },
		"SELECT kind, count(*) FROM returned GROUP BY kind")
	if err != nil {
		return nil, fmt.Errorf("count what came back: %w", err)
	}
	by := make(map[string]int, len(all))
	for _, c := range all {
		by[c.kind] = int(c.n)
	}
	return by, nil
}
