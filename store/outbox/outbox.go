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

// NewMessage is a letter to queue and what its reader will have heard by it.
type NewMessage struct {
	Message  schedule.Message // State is queued, or held if a person is to look first
	Notified []schedule.Notified
	// Invitation is what it tells the reader's calendar; nil for nothing.
	Invitation *schedule.Invitation
}

// Queue is the outbox as whoever sends takes from it.
type Queue struct{ db *store.DB }

// NewQueue returns the shop's queue of letters.
func NewQueue(db *store.DB) Queue { return Queue{db: db} }

const letterColumns = "id, key, customer_id, to_address, from_address, step, subjects, message_id, subject, state, attempts, " +
	"next_at, not_after, queued_at, lease_token, dot_at, code, enhanced, answer"

// wholeMessageColumns are those and its bytes, which lie beside it.
const wholeMessageColumns = letterColumns + ", (SELECT r.raw FROM outbox_raw r WHERE r.letter_id = outbox.id)"

// readMessage reads a letter without its bytes; see [readWholeMessage].
func readMessage(c *kernel.Row) schedule.Message {
	return schedule.Message{
		ID: c.Int(0), Key: c.Text(1), CustomerID: c.Text(2), To: c.Text(3), From: c.Text(4), Step: schedule.Step(c.Text(5)),
		Subjects: c.Lines(6), MessageID: c.Text(7), Subject: c.Text(8), State: schedule.MessageState(c.Text(9)),
		Attempts: int(c.Int(10)), NextAt: c.Instant(11), NotAfter: c.Instant(12), QueuedAt: c.Instant(13),
		LeaseToken: c.Text(14), DotAt: c.Instant(15), Code: int(c.Int(16)), Enhanced: c.Text(17), Answer: c.Text(18),
	}
}

// wholeMessageWidth is the number of wholeMessageColumns.
const wholeMessageWidth = 20

func readWholeMessage(c *kernel.Row) schedule.Message {
	l := readMessage(c)
	l.Raw = c.Blob(19)
	return l
}

// Enqueue puts letters into the outbox, each together with what is heard by it,
// all in one transaction. A letter whose key is taken is passed over, and
// so is one to an address that is dead or a customer who asked for no such
// mail. It returns how many were queued.
func Enqueue(ctx context.Context, db *store.DB, now time.Time, letters []NewMessage) (queued int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		p := kernel.NewPrepared(tx)
		defer p.Close()
		queued = 0
		for i := range letters {
			ok, err := enqueue(ctx, p, now, &letters[i])
			if err != nil {
				return fmt.Errorf("queue letter %q: %w", letters[i].Message.Key, err)
			}
			if ok {
				queued++
			}
		}
		return nil
	})
	return queued, err
}

func enqueue(ctx context.Context, q kernel.Querier, now time.Time, n *NewMessage) (bool, error) {
	l := &n.Message
	if err := checkLetter(l); err != nil {
		return false, err
	}
	stop, err := stopped(ctx, q, l)
	if err != nil || stop {
		return false, err
	}
	state, next := l.State, l.NextAt
	if state == "" {
		state = schedule.MessageQueued
	}
	if next.IsZero() {
		next = now
	}
	id, err := kernel.One(ctx, q, kernel.FirstInt,
		`INSERT INTO outbox (key, customer_id, to_address, from_address, step, subjects, names, message_id, subject, state, next_at, not_after, queued_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING RETURNING id`,
		l.Key, l.CustomerID, l.To, l.From, string(l.Step), kernel.JoinLines(l.Subjects), joinNames(l.Names), l.MessageID, l.Subject,
		string(state), next.Unix(), kernel.InstantArg(l.NotAfter), now.Unix())
	if fresh, err := kernel.Found(err); err != nil || !fresh {
		return false, err
	}
	if _, err := q.ExecContext(ctx, "INSERT INTO outbox_raw (letter_id, raw) VALUES (?, ?)", id, l.Raw); err != nil {
		return false, err
	}
	for _, h := range n.Notified {
		if err := putNotified(ctx, q, h, id); err != nil {
			return false, err
		}
	}
	if n.Invitation != nil {
		return true, putInvitation(ctx, q, id, n.Invitation)
	}
	return true, nil
}

// JoinConfirmations takes back the confirmations to a customer that were never
// tried, so that one email can tell what they and a later booking say. Their steps
// are open again. It returns how many there were.
func JoinConfirmations(ctx context.Context, db *store.DB, now time.Time, customerID string) (n int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) (err error) {
		n, err = store.Withdraw(ctx, tx, now, "it goes out together with what was booked after it",
			"customer_id = ?3 AND step = ?4 AND attempts = 0", customerID, string(schedule.StepConfirmation))
		return err
	})
	return n, kernel.Wrap(err, "join the confirmations to customer %q", customerID)
}

// checkLetter refuses a letter that could never be sent or told apart.
func checkLetter(l *schedule.Message) error {
	switch {
	case l.Key == "" || l.To == "" || l.MessageID == "" || len(l.Raw) == 0:
		return fmt.Errorf("it needs a key, an address, a message id and its bytes: %w", store.ErrRefused)
	case l.State != "" && l.State != schedule.MessageQueued && l.State != schedule.MessageHeld:
		return fmt.Errorf("a new letter cannot be %q: %w", l.State, store.ErrRefused)
	}
	return nil
}

// stopped reports whether the letter must not be queued: the address is dead or
// the customer does not want such emails.
func stopped(ctx context.Context, q kernel.Querier, l *schedule.Message) (bool, error) {
	return kernel.Exists(ctx, q, `SELECT 1 FROM suppressions WHERE address = ?
		UNION ALL SELECT 1 FROM opt_outs WHERE customer_id = ? AND (no_mail = 1 OR no_reminders = 1 AND ? = 1)`,
		strings.ToLower(l.To), l.CustomerID, kernel.BoolArg(store.IsReminder(l.Step)))
}

// mayClaim is the condition under which anything is sent.
const mayClaim = "EXISTS (SELECT 1 FROM sending WHERE switched_on = 1 AND held = '' AND paused = '')"

// mayProbe is the condition under which one letter tries a paused queue. A moment
// further off than [probeEvery] was written while the clock was ahead.
const mayProbe = `EXISTS (SELECT 1 FROM sending WHERE switched_on = 1 AND held = '' AND paused <> '' AND (probe_at <= ?2 OR probe_at > ?2 + 3600))`

// probeEvery is how long a queue that is paused for lack of answers waits before
// each letter that tries.
const probeEvery = time.Hour

// claimIf leases the next letter under a condition.
func claimIf(may string) string {
	return `UPDATE outbox SET state = 'leased', attempts = attempts + 1, claims = claims + 1,
			lease_token = id || '.' || (claims + 1), lease_until = ?1, dot_at = NULL
		WHERE ` + may + ` AND id = (SELECT id FROM outbox INDEXED BY outbox_waiting WHERE state IN ('queued', 'deferred') AND next_at <= ?2
			AND (not_after IS NULL OR not_after >= ?2) AND NOT EXISTS (` + calendarBefore + `) ORDER BY next_at, id LIMIT 1)
		RETURNING ` + wholeMessageColumns + ", " + changedName
}

// calendarBefore finds an earlier letter about the same appointment that is still
// on its way: a calendar must hear of a cancellation after what it cancels.
const calendarBefore = `SELECT 1 FROM invitations mine JOIN invitations i ON i.uid = mine.uid AND i.letter_id < mine.letter_id
	JOIN outbox o ON o.id = i.letter_id WHERE mine.letter_id = outbox.id AND o.state IN ('queued', 'deferred', 'held', 'leased')`

// The statements of every letter that goes out.
var claimMessage, claimProbe = claimIf(mayClaim), claimIf(mayProbe)

const (
	markMessage = `UPDATE outbox SET dot_at = ?1
		WHERE id = ?2 AND lease_token = ?3 AND state = 'leased' AND dot_at IS NULL AND lease_until >= ?1`

	settleMessage = `UPDATE outbox SET state = ?1, code = ?2, enhanced = ?3, answer = ?4,
			next_at = CASE WHEN ?5 THEN ?6 ELSE next_at END, dot_at = CASE WHEN ?5 THEN NULL ELSE dot_at END,
			done_at = CASE WHEN ?5 THEN NULL ELSE ?7 END, verdict = iif(?10, 'held', ''), attempts = attempts - (?1 = 'queued'),
			lease_token = CASE WHEN ?1 = 'uncertain' THEN lease_token END, lease_until = NULL
		WHERE id = ?8 AND lease_token = ?9 AND state IN ('leased', 'uncertain') RETURNING id`
)

// Claim leases the letter that has waited longest past its time, until now plus
// lease, and returns it whole with its token. [ErrNone] if nothing is to be
// sent now: none is due, or sending is off, held or paused. Messages past their
// last useful moment are never given out. Nor is one that was never tried and
// names something that is no longer as it says: it is withdrawn, see
// [WithdrawnSince]. Once a letter has been tried it is not looked at again.
// From a queue that is paused for lack of answers one letter is given out every
// hour, as a probe.
func (out Queue) Claim(ctx context.Context, now time.Time, lease time.Duration) (schedule.Message, error) {
	var l schedule.Message
	var got bool
	err := out.db.Group.Do(ctx, func(ctx context.Context, q kernel.Querier) (err error) {
		if l, got, err = leaseNext(ctx, q, claimMessage, now, lease); err != nil || got {
			return err
		}
		if l, got, err = leaseNext(ctx, q, claimProbe, now, lease); err != nil || !got {
			return err
		}
		l.Probe = true
		_, err = q.ExecContext(ctx, "UPDATE sending SET probe_at = ?", now.Add(probeEvery).Unix())
		return err
	})
	if err == nil && !got {
		return l, store.ErrNone
	}
	return l, kernel.Wrap(err, "claim a letter")
}

// leaseNext leases the next letter that is as it says; got reports whether there is
// one.
func leaseNext(ctx context.Context, q kernel.Querier, statement string, now time.Time, lease time.Duration) (l schedule.Message, got bool, err error) {
	for {
		c, err := kernel.One(ctx, q, readClaimed, statement, now.Add(lease).Unix(), now.Unix())
		if got, err := kernel.Found(err); err != nil || !got || c.changed == "" {
			return c.Message, got, err
		}
		if _, err := store.Withdraw(ctx, q, now, c.changed, "id = ?3", c.ID); err != nil {
			return l, false, err
		}
	}
}

// MarkDot writes down that the final dot of a letter is about to go out; it is
// on the disk when MarkDot returns. [ErrLostLease] means that the dot must not
// be sent: the lease ran out, or the customer has asked to stop.
func (out Queue) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	err := out.db.Group.Do(ctx, func(ctx context.Context, q kernel.Querier) error {
		r, err := q.ExecContext(ctx, markMessage, now.Unix(), id, token)
		n, err := kernel.Affected(r, err)
		if err == nil && n == 0 {
			err = store.ErrLostLease
		}
		return err
	})
	return kernel.Wrap(err, "mark the dot of letter %d", id)
}

// RecordOutcome writes down what became of an attempt, and in the same
// transaction pauses the queue or resumes it. A dead address is suppressed
// later, see [Queue.BelieveDead]. The answer to a
// letter that was meanwhile taken for uncertain still counts. A letter that is
// queued again without a fault of its own does not lose an attempt.
func (out Queue) RecordOutcome(ctx context.Context, id int64, token string, o schedule.Outcome, now time.Time) error {
	err := checkOutcome(o)
	if err == nil {
		err = out.db.Group.Do(ctx, func(ctx context.Context, q kernel.Querier) error { return recordOutcome(ctx, q, id, token, o, now) })
	}
	return kernel.Wrap(err, "record the outcome of letter %d", id)
}

func recordOutcome(ctx context.Context, q kernel.Querier, id int64, token string, o schedule.Outcome, now time.Time) error {
	err := settle(ctx, q, id, token, o, now)
	if err == store.ErrNotFound {
		return store.ErrLostLease
	}
	if err == nil && o.State == schedule.MessageExpired {
		err = store.Unhear(ctx, q, id)
	}
	if err == nil && o.EndsPause {
		_, err = q.ExecContext(ctx, "UPDATE sending SET paused = '', probe_at = NULL WHERE probe_at IS NOT NULL")
	}
	if err == nil && o.PauseQueue {
		err = pause(ctx, q, outcomeReason(o), time.Time{})
	}
	return err
}
