package outbox

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// SendingState says whether mail goes out, and if not, why. It does only if On
// is set and both reasons are empty.
type SendingState struct {
	On        bool   // the owner has switched it on
	HeldWhy   string // a person or a restore holds the queue
	PausedWhy string // the mail host refused for a fault of ours
	// Since is when it was last switched on, for a slow start; zero if never.
	Since time.Time
	// ProbeAt is when one letter tries whether a paused queue may go on, zero if
	// it waits for a person.
	ProbeAt time.Time
}

// Open reports whether letters are given out.
func (s SendingState) Open() bool { return s.On && s.HeldWhy == "" && s.PausedWhy == "" }

// Sending returns whether mail goes out. In a new shop it does not.
func Sending(ctx context.Context, db *store.Reader) (SendingState, error) {
	s, err := sending(ctx, db.Read)
	return s, kernel.Wrap(err, "read whether mail goes out")
}

func sending(ctx context.Context, q kernel.Querier) (SendingState, error) {
	return kernel.One(ctx, q, func(c *kernel.Row) SendingState {
		return SendingState{c.Bool(0), c.Text(1), c.Text(2), c.Instant(3), c.Instant(4)}
	},
		"SELECT switched_on, held, paused, since, probe_at FROM sending")
}

// SetSending switches mail on or off.
func SetSending(ctx context.Context, db *store.DB, now time.Time, actor string, on bool) error {
	return setSending(ctx, db, now, actor, "switch sending", func(s *SendingState) {
		if on && !s.On {
			s.Since = now
		}
		s.On = on
	})
}

// Hold stops the queue for a reason that a person gives.
func Hold(ctx context.Context, db *store.DB, now time.Time, actor, why string) error {
	if why == "" {
		why = "held by " + actor
	}
	return setSending(ctx, db, now, actor, "hold sending", func(s *SendingState) { s.HeldWhy = why })
}

// Release lets a held or paused queue go on. While refused addresses wait for a
// word of the desk it is [ErrRefused]: [JudgeDoubted] gives it.
func Release(ctx context.Context, db *store.DB, now time.Time, actor string) error {
	if doubted, err := Doubted(ctx, db.Reader); err != nil || len(doubted) > 0 {
		return kernel.OrRefused(err, fmt.Sprintf("resume sending: the mail server refused %d addresses; say first whether they are dead or it was the server's fault", len(doubted)))
	}
	return setSending(ctx, db, now, actor, "resume sending", func(s *SendingState) { s.HeldWhy, s.PausedWhy, s.ProbeAt = "", "", time.Time{} })
}

func setSending(ctx context.Context, db *store.DB, now time.Time, actor, what string, f func(*SendingState)) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		before, err := sending(ctx, tx)
		if err != nil {
			return err
		}
		after := before
		f(&after)
		if after == before {
			return nil
		}
		_, err = tx.ExecContext(ctx, "UPDATE sending SET switched_on = ?, held = ?, paused = ?, since = ?, probe_at = ?",
			kernel.BoolArg(after.On), after.HeldWhy, after.PausedWhy, kernel.InstantArg(after.Since), kernel.InstantArg(after.ProbeAt))
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: what, Before: before, After: after})
	})
	return kernel.Wrap(err, "%s", what)
}

// AfterRestore makes a restored outbox safe: it may not know of letters that
// went out after the backup. Whatever waits is uncertain, and the queue is held
// until a person has looked. Calendars may have been told of changes that it does
// not know: the sequences of appointments jump beyond those.
func AfterRestore(ctx context.Context, db *store.DB, now time.Time, actor string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		return doubtWaiting(ctx, tx, now, "it may have been sent after the backup was made")
	})
	if err != nil {
		return fmt.Errorf("make the restored outbox safe: %w", err)
	}
	return Hold(ctx, db, now, actor, "restored from a backup: check the uncertain emails, then release")
}

// AfterImport does the same to the outbox of an export, which is on hold already.
func AfterImport(ctx context.Context, db *store.DB, now time.Time, _ string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		return doubtWaiting(ctx, tx, now, "it may have been sent after the export was made")
	})
	return kernel.Wrap(err, "make the outbox of the export safe")
}

// AfterTakeOver does the same to the outbox of a copy that followed the shop to within
// seconds, where a lease keeps the machine that it followed from sending. The queue goes
// on. Of what waits, confirmations and other letters about a booked visit go out again,
// with the same bytes and Message-ID, since their readers wait for them; a reminder that
// may have been sent is not sent again.
func AfterTakeOver(ctx context.Context, db *store.DB, now time.Time, actor string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		waited, err := kernel.Collect(ctx, tx, readMessage, "SELECT "+letterColumns+" FROM outbox WHERE state IN ('queued', 'leased', 'deferred') ORDER BY id")
		if err != nil {
			return err
		}
		if err := doubtWaiting(ctx, tx, now, "it may have been sent by the machine that failed"); err != nil {
			return err
		}
		for i := range waited {
			if store.IsReminder(waited[i].Step) {
				continue
			}
			_, err := tx.ExecContext(ctx, "UPDATE outbox SET state = 'queued', next_at = ?, dot_at = NULL, done_at = NULL WHERE id = ?", now.Unix(), waited[i].ID)
			if err != nil {
				return err
			}
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "take over from another machine", After: len(waited)})
	})
	return kernel.Wrap(err, "make the outbox that was taken over safe")
}

// doubtWaiting makes whatever waits uncertain, and the sequences of appointments jump.
func doubtWaiting(ctx context.Context, tx *sql.Tx, now time.Time, why string) error {
	_, err := tx.ExecContext(ctx, `UPDATE outbox SET state = 'uncertain', lease_token = NULL, lease_until = NULL, done_at = ?, answer = ?
		WHERE state IN ('queued', 'leased', 'deferred')`, now.Unix(), why)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE invitations SET sequence = sequence + ?", store.SequenceJump)
	return err
}

// MessageQuery asks for letters, newest first. Before is the id of the last one
// seen, 0 for the first page.
type MessageQuery struct {
	State      schedule.MessageState // "" for all
	CustomerID string                // "" for all
	Before     int64
	Limit      int // 0 means 100
}

// Messages returns a page of letters without their bytes.
func Messages(ctx context.Context, db *store.Reader, q MessageQuery) ([]schedule.Message, error) {
	where, args := "true", []any{}
	if q.State != "" {
		where, args = where+" AND state = ?", append(args, string(q.State))
	}
	if q.CustomerID != "" {
		where, args = where+" AND customer_id = ?", append(args, q.CustomerID)
	}
	if q.Before > 0 {
		where, args = where+" AND id < ?", append(args, q.Before)
	}
	all, err := kernel.Collect(ctx, db.Read, readMessage, "SELECT "+letterColumns+" FROM outbox WHERE "+where+" ORDER BY id DESC LIMIT ?",
		append(args, kernel.LimitOr(q.Limit))...)
	return all, kernel.Wrap(err, "list letters")
}

// Message returns one letter with its bytes.
func Message(ctx context.Context, db *store.Reader, id int64) (schedule.Message, error) {
	l, err := kernel.One(ctx, db.Read, readWholeMessage, "SELECT "+wholeMessageColumns+" FROM outbox WHERE id = ?", id)
	return l, kernel.Wrap(err, "letter %d", id)
}

// MessageCounts counts the letters by state.
func MessageCounts(ctx context.Context, db *store.Reader) (map[schedule.MessageState]int, error) {
	type count struct {
		state schedule.MessageState
		n     int
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) count { return count{schedule.MessageState(c.Text(0)), int(c.Int(1))} },
		"SELECT state, count(*) FROM outbox GROUP BY state")
	if err != nil {
		return nil, fmt.Errorf("count letters: %w", err)
	}
	counts := make(map[schedule.MessageState]int, len(all))
	for _, c := range all {
		counts[c.state] = c.n
	}
	return counts, nil
}

// SentSince counts the letters whose final dot went out from a moment to now, for
// the minute's ration. Those being sent count too.
func SentSince(ctx context.Context, db *store.Reader, since, now time.Time) (int, error) {
	n, err := kernel.One(ctx, db.Read, kernel.FirstInt,
		`SELECT (SELECT count(*) FROM outbox WHERE dot_at BETWEEN ? AND ?) + (SELECT count(*) FROM outbox WHERE state = 'leased' AND dot_at IS NULL)`, since.Unix(), now.Unix())
	return int(n), kernel.Wrap(err, "count letters sent")
}
