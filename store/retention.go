package store

import (
	"context"
	"database/sql"
	"time"

	"bellbuoy/store/internal/kernel"
)

// Thinned is what [DB.Thin] removed.
type Thinned struct {
	Messages int // whose bytes went
	Events   int // calendar events that left the plan, whose text went
	Ticks    int
}

// thinAtOnce is how many rows one transaction thins, so that nobody waits for it.
const thinAtOnce = 500

// Thin removes what nobody asks for after a while: the bytes of messages that were
// done with before a moment, the text of calendar events that left the plan before
// it, and the notes of these jobs of earlier turns. A message keeps its row: day,
// kind, subject, outcome and Message-ID; an event its sequence. Records, readings,
// money, the log of changes, who asked for no mail and which addresses are dead
// stay for ever.
func (db *DB) Thin(ctx context.Context, before time.Time, jobs []string) (done Thinned, err error) {
	for _, part := range []struct {
		count     *int
		statement string
		args      []any
	}{
		{&done.Messages, `UPDATE outbox_raw SET raw = x'' WHERE letter_id IN (SELECT o.id FROM outbox o JOIN outbox_raw r ON r.letter_id = o.id
			WHERE coalesce(o.done_at, o.queued_at) < ?1 AND o.queued_at < ?1 AND o.state NOT IN ('queued', 'leased', 'deferred', 'held')
			AND length(r.raw) > 0 ORDER BY o.id LIMIT ?2)`, nil},
		{&done.Events, `UPDATE feed_events SET body = x'', desk = NULL WHERE uid IN (SELECT uid FROM feed_events
			WHERE live = 0 AND changed_at < ?1 AND length(body) > 0 LIMIT ?2)`, nil},
		{&done.Ticks, `DELETE FROM ticks WHERE (job, key) IN (SELECT job, key FROM ticks
			WHERE at < ?1 AND job IN (SELECT value FROM json_each(?3)) LIMIT ?2)`, []any{kernel.IDList(jobs)}},
	} {
		for {
			var n int64
			err := db.Tx(ctx, func(tx *sql.Tx) error {
				r, err := tx.ExecContext(ctx, part.statement, append([]any{before.Unix(), thinAtOnce}, part.args...)...)
				n, err = kernel.Affected(r, err)
				return err
			})
			if err != nil {
				return done, kernel.Wrap(err, "remove what is old")
			}
			if *part.count += int(n); n < thinAtOnce {
				break
			}
		}
	}
	return done, nil
}
