package outbox

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// pause stops the queue for a reason; with a moment one letter tries then. What
// waits for a person stays so.
func pause(ctx context.Context, q kernel.Querier, why string, probe time.Time) error {
	_, err := q.ExecContext(ctx, "UPDATE sending SET paused = ?, probe_at = ? WHERE paused = '' OR probe_at IS NOT NULL", why, kernel.InstantArg(probe))
	return err
}

// Brake pauses the queue because of what several letters met with. See
// [schedule.Brake] for what becomes of those.
func (out Queue) Brake(ctx context.Context, b schedule.Brake, now time.Time) error {
	err := out.db.Tx(ctx, func(tx *sql.Tx) error { return brake(ctx, tx, b, now) })
	return kernel.Wrap(err, "pause sending")
}

func brake(ctx context.Context, q kernel.Querier, b schedule.Brake, now time.Time) error {
	var probe time.Time
	if b.Probe {
		probe = now.Add(probeEvery)
	}
	if err := pause(ctx, q, b.Why, probe); err != nil {
		return err
	}
	for _, id := range b.Doubted {
		// An earlier drain may have believed it, or an earlier bounce.
		if _, err := q.ExecContext(ctx, "UPDATE outbox SET verdict = 'doubted' WHERE id = ? AND state IN ('refused', 'sent', 'uncertain')", id); err != nil {
			return err
		}
		const dead = "SELECT address FROM suppressions WHERE address = (SELECT lower(to_address) FROM outbox WHERE id = ? AND verdict = 'doubted')"
		if err := revive(ctx, q, now, dead, id); err != nil {
			return err
		}
		if _, err := q.ExecContext(ctx, "DELETE FROM suppressions WHERE address = ("+dead+")", id); err != nil {
			return err
		}
	}
	for _, id := range b.Again {
		if err := sendAgain(ctx, q, now, "id = ?2 AND state = 'refused' AND attempts < 2", id); err != nil {
			return err
		}
	}
	return nil
}

// sendAgain queues letters that a server refused with the same bytes; where
// selects them and may use arguments from ?2 on.
func sendAgain(ctx context.Context, q kernel.Querier, now time.Time, where string, args ...any) error {
	_, err := q.ExecContext(ctx, `UPDATE outbox SET state = 'deferred', next_at = ?1, dot_at = NULL, done_at = NULL, verdict = '' WHERE `+where,
		append([]any{now.Unix()}, args...)...)
	return err
}

// BelieveDead suppresses the addresses of letters that were refused because they
// are dead, but for those that are in doubt.
func (out Queue) BelieveDead(ctx context.Context, now time.Time) error {
	held, err := kernel.One(ctx, out.db.Read, kernel.FirstBool, "SELECT EXISTS (SELECT 1 FROM outbox WHERE verdict = 'held')")
	if err == nil && held {
		err = out.db.Tx(ctx, func(tx *sql.Tx) error { return believe(ctx, tx, now, "held") })
	}
	return kernel.Wrap(err, "suppress dead addresses")
}

func believe(ctx context.Context, q kernel.Querier, now time.Time, verdict string) error {
	all, err := kernel.Collect(ctx, q, readMessage, "UPDATE outbox SET verdict = '' WHERE verdict = ? RETURNING "+letterColumns, verdict)
	if err != nil {
		return err
	}
	for i := range all {
		l := &all[i]
		if err := quoteReturned(ctx, q, l); err != nil {
			return err
		}
		if err := suppress(ctx, q, l.To, outcomeReason(schedule.Outcome{Code: l.Code, Enhanced: l.Enhanced, Answer: l.Answer}), now); err != nil {
			return err
		}
	}
	return nil
}

// quoteReturned puts what came back about a letter in place of what the first
// server said when it took it.
func quoteReturned(ctx context.Context, q kernel.Querier, l *schedule.Message) error {
	if l.State == schedule.MessageRefused {
		return nil
	}
	why, err := kernel.Collect(ctx, q, kernel.FirstText, "SELECT why FROM returned WHERE letter_id = ? AND kind = 'dead' ORDER BY at DESC LIMIT 1", l.ID)
	if err == nil && len(why) > 0 {
		l.Code, l.Enhanced, l.Answer = 0, "", why[0]
	}
	return err
}

// Doubted returns the letters, the newest first, that came back or that the mail server refused
// because their addresses are dead, so many that the desk must say what it was.
func Doubted(ctx context.Context, db *store.Reader) ([]schedule.Message, error) {
	all, err := kernel.Collect(ctx, db.Read, readMessage, "SELECT "+letterColumns+" FROM outbox WHERE verdict = 'doubted' ORDER BY id DESC")
	for i := range all {
		err = errors.Join(err, quoteReturned(ctx, db.Read, &all[i]))
	}
	return all, kernel.Wrap(err, "list the letters in doubt")
}

// JudgeDoubted has the desk say what it was: the addresses are dead, and no more
// mail goes there; or it was the mail server's fault, and the letters are queued
// again. Either way the queue goes on, if a person does not hold it.
func JudgeDoubted(ctx context.Context, db *store.DB, now time.Time, actor string, dead bool) error {
	what, do := "use refused addresses again", func(q kernel.Querier) error {
		return sendAgain(ctx, q, now, "verdict = 'doubted'")
	}
	if dead {
		what, do = "take refused addresses for dead", func(q kernel.Querier) error { return believe(ctx, q, now, "doubted") }
	}
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		ids, err := kernel.Collect(ctx, tx, kernel.FirstInt, "SELECT id FROM outbox WHERE verdict = 'doubted' ORDER BY id")
		if err != nil {
			return err
		}
		if len(ids) == 0 {
			return fmt.Errorf("no refused address waits for a word of the desk: %w", store.ErrRefused)
		}
		if _, err := tx.ExecContext(ctx, "UPDATE returned SET judged = 1 WHERE kind = 'dead' AND letter_id IN (SELECT id FROM outbox WHERE verdict = 'doubted')"); err != nil {
			return err
		}
		if err := do(tx); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE sending SET paused = '', probe_at = NULL"); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: what, After: ids})
	})
	return kernel.Wrap(err, "%s", what)
}
