package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// UndoWithin is how long a customer may take an answer back without ringing.
const UndoWithin = 48 * time.Hour

// keptAnswer is an answer with what it changed.
type keptAnswer struct {
	schedule.Answer
	effect AnswerEffect
	undone bool
}

// UndoAnswer takes an answer back with what it changed. [ErrRefused], with the
// reason, if it is too old, if another answer came after it, or if the shop has
// acted on it; [ErrNotFound] if it is not the customer's. Taking it back twice
// is once. today keeps a day that has passed from being booked again, and fit one
// that others have filled since.
func (db *DB) UndoAnswer(ctx context.Context, now time.Time, today civil.Day, actor, customerID string, id int64, fit Fit) (schedule.Answer, error) {
	var a keptAnswer
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		var err error
		if a, err = answerByID(ctx, tx, customerID, id); err != nil || a.undone {
			return err
		}
		if err := undoable(ctx, tx, now, today, &a); err != nil {
			return err
		}
		if err := undoEffect(ctx, tx, now, actor, &a, fit); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE answers SET undone_at = ? WHERE id = ?", now.Unix(), id); err != nil {
			return err
		}
		if err := replan(ctx, tx, &a.Answer); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "undo a reply", BoatID: a.BoatID, CustomerID: customerID, Before: a.Answer})
	})
	return a.Answer, kernel.Wrap(err, "take back answer %d", id)
}

func answerByID(ctx context.Context, q kernel.Querier, customerID string, id int64) (keptAnswer, error) {
	var fault error
	a, err := kernel.One(ctx, q, func(c *kernel.Row) keptAnswer {
		k := keptAnswer{Answer: readAnswer(c), undone: !c.Null(answerWidth + 1)}
		fault = json.Unmarshal([]byte(c.Text(answerWidth)), &k.effect)
		return k
	}, "SELECT "+answerColumns+", changed, undone_at FROM answers a WHERE id = ? AND customer_id = ?", id, customerID)
	if err == nil {
		err = kernel.Wrap(fault, "what answer %d changed", id)
	}
	return a, err
}

// undoable says why an answer cannot be taken back, nil if it can.
func undoable(ctx context.Context, q kernel.Querier, now time.Time, today civil.Day, a *keptAnswer) error {
	refuse := func(why string) error { return fmt.Errorf("%s: %w", why, ErrRefused) }
	if now.Sub(a.At) > UndoWithin {
		return refuse("two days have passed")
	}
	if a.Seen {
		return refuse("the shop has acted on it")
	}
	newer, err := kernel.One(ctx, q, kernel.FirstInt,
		`SELECT count(*) FROM answers WHERE customer_id = ? AND boat_id = ? AND visit_id = ? AND visit_id <> '' AND id > ? AND undone_at IS NULL`,
		a.CustomerID, a.BoatID, a.VisitID, a.ID)
	if err != nil {
		return err
	}
	if newer > 0 {
		return refuse("a later answer about the visit stands")
	}
	if a.BoatID != "" {
		if err := checkAnswer(ctx, q, &NewAnswer{Answer: schedule.Answer{CustomerID: a.CustomerID, BoatID: a.BoatID, Kind: schedule.AnswerCall}}); err != nil {
			return err
		}
	}
	return a.effect.stands(ctx, q, today, a)
}

// stands reports whether everything is still as the answer left it.
func (e *AnswerEffect) stands(ctx context.Context, q kernel.Querier, today civil.Day, a *keptAnswer) error {
	refused := fmt.Errorf("the shop has changed it since: %w", ErrRefused)
	if e.Was != nil || e.Is != nil {
		is, err := bookingOrNone(ctx, q, a.VisitID)
		if err != nil {
			return err
		}
		if (is == nil) != (e.Is == nil) || is != nil && *is != *e.Is {
			return refused
		}
		if e.Was != nil && e.Was.Day <= today {
			return fmt.Errorf("the day that was booked before has come: %w", ErrRefused)
		}
	}
	for _, r := range e.Records {
		is, err := recordByID(ctx, q, r.BoatID, r.ID)
		known, err := kernel.Found(err)
		if err != nil {
			return err
		}
		if !known || is != r {
			return refused
		}
	}
	if e.MailsAre != nil {
		is, err := mailChoice(ctx, q, a.CustomerID)
		if err != nil {
			return err
		}
		if is != *e.MailsAre {
			return refused
		}
	}
	return nil
}

// undoEffect puts back what was there before the answer.
func undoEffect(ctx context.Context, tx kernel.Querier, now time.Time, actor string, a *keptAnswer, fit Fit) error {
	e := &a.effect
	switch {
	case e.Was != nil:
		if err := book(ctx, tx, now, actor, *e.Was, fit); err != nil {
			return err
		}
	case e.Is != nil:
		if err := unbook(ctx, tx, now, actor, a.VisitID); err != nil {
			return err
		}
	}
	for _, r := range e.Records {
		if err := removeRecord(ctx, tx, now, actor, r.BoatID, r.ID); err != nil {
			return err
		}
	}
	for _, r := range e.Readings {
		if _, err := kernel.Found(removeReading(ctx, tx, now, actor, r)); err != nil {
			return err
		}
	}
	if e.VisitNote != 0 {
		if _, err := tx.ExecContext(ctx, "DELETE FROM said WHERE id = ?", e.VisitNote); err != nil {
			return err
		}
	}
	if e.MailsWas != nil {
		return SetOptOut(ctx, tx, now, actor, a.CustomerID, e.MailsWas.NoReminders, e.MailsWas.NoMail)
	}
	return nil
}
