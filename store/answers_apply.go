package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// applyAnswer does what an answer says and tells what that changed.
func applyAnswer(ctx context.Context, tx kernel.Querier, now time.Time, actor string, n *NewAnswer) (e AnswerEffect, err error) {
	if e.Against, err = bookedAgainst(ctx, tx, n); err != nil {
		return e, err
	}
	switch n.Kind {
	case schedule.AnswerTake:
		if e.Was, err = bookingOrNone(ctx, tx, n.VisitID); err != nil {
			return e, err
		}
		if err = book(ctx, tx, now, actor, *n.Booking, n.Fit); err != nil {
			return e, err
		}
		if e.Is, err = bookingOrNone(ctx, tx, n.VisitID); err != nil {
			return e, err
		}
		e.VisitNote, err = say(ctx, tx, now, actor, n)
	case schedule.AnswerCancel:
		e.Was, err = callOff(ctx, tx, now, actor, n.VisitID)
		if err == nil && e.Was == nil {
			err = fmt.Errorf("the visit is not booked: %w", ErrRefused)
		}
	case schedule.AnswerElsewhere:
		err = applyElsewhere(ctx, tx, now, actor, n, &e)
	case schedule.AnswerHours:
		e.Readings, err = addNewReadings(ctx, tx, now, actor, n)
	case schedule.AnswerSold:
		err = dropAbout(ctx, tx, now, n.CustomerID, n.BoatID, "the customer says that the boat is sold")
	case schedule.AnswerMails:
		was, err := mailChoice(ctx, tx, n.CustomerID)
		if err != nil {
			return e, err
		}
		e.MailsWas, e.MailsAre = &was, &n.Mails
		return e, SetOptOut(ctx, tx, now, actor, n.CustomerID, n.Mails.NoReminders, n.Mails.NoMail)
	}
	return e, err
}

// bookedAgainst returns the booking that an answer speaks against, nil for none:
// somebody who wants a visit later, not at all or has had it done, or who has no
// such boat any more, will not come. A day that the customer took is theirs to
// give up by having the work done elsewhere.
func bookedAgainst(ctx context.Context, q kernel.Querier, n *NewAnswer) (*schedule.Booking, error) {
	switch n.Kind {
	case schedule.AnswerLater, schedule.AnswerDecline:
		return bookingOrNone(ctx, q, n.VisitID)
	case schedule.AnswerElsewhere:
		b, err := bookingOrNone(ctx, q, n.VisitID)
		if err != nil || b == nil {
			return nil, err
		}
		taken, err := kernel.One(ctx, q, func(c *kernel.Row) string { return c.Text(0) }, `SELECT coalesce(json_extract(changed, '$.is'), '') FROM answers
			WHERE visit_id = ? AND kind = 'take' AND undone_at IS NULL ORDER BY id DESC LIMIT 1`, n.VisitID)
		if _, err := kernel.Found(err); err != nil {
			return nil, err
		}
		var own schedule.Booking
		if taken != "" {
			if err := json.Unmarshal([]byte(taken), &own); err != nil {
				return nil, err
			}
		}
		if own.When() == b.When() {
			return nil, nil
		}
		return b, nil
	case schedule.AnswerSold:
		b, err := kernel.One(ctx, q, tables.ReadBooking, "SELECT "+tables.BookingColumns+" FROM bookings WHERE boat_id = ? ORDER BY day LIMIT 1", n.BoatID)
		if known, err := kernel.Found(err); err != nil || !known {
			return nil, err
		}
		return &b, nil
	}
	return nil, nil
}

// settleAgainst marks the answers as seen that spoke against a booking of a
// visit: it has been moved or given up.
func settleAgainst(ctx context.Context, tx kernel.Querier, now time.Time, actor, visitID string) error {
	return SeeToAnswers(ctx, tx, now, actor, "visit_id = ? AND visit_id <> '' AND json_extract(changed, '$.against') IS NOT NULL", visitID)
}

// applyElsewhere writes down the work that the customer had done by others.
// Work that is on file already is passed over.
func applyElsewhere(ctx context.Context, tx kernel.Querier, now time.Time, actor string, n *NewAnswer, e *AnswerEffect) error {
	for _, r := range n.Records {
		r.BoatID, r.By = n.BoatID, schedule.ByElsewhere
		known, err := kernel.Collect(ctx, tx, tables.ReadRecord, "SELECT "+tables.RecordColumns+" FROM records WHERE boat_id = ? AND day = ? AND component_id = ? AND service = ?",
			r.BoatID, r.Day.String(), r.ComponentID, r.Service)
		if err != nil {
			return err
		}
		if len(known) > 0 {
			continue
		}
		if err := addRecord(ctx, tx, now, actor, &r); err != nil {
			return err
		}
		e.Records = append(e.Records, r)
	}
	var err error
	if e.Readings, err = addNewReadings(ctx, tx, now, actor, n); err != nil || !n.CallOff || n.VisitID == "" {
		return err
	}
	e.Was, err = callOff(ctx, tx, now, actor, n.VisitID)
	return err
}

// addNewReadings writes the answer's readings down and returns those that were
// not known before.
func addNewReadings(ctx context.Context, tx kernel.Querier, now time.Time, actor string, n *NewAnswer) ([]schedule.Reading, error) {
	var fresh []schedule.Reading
	for _, r := range n.Readings {
		if err := checkPart(ctx, tx, n.BoatID, r.ComponentID); err != nil {
			return nil, err
		}
		known, err := kernel.Exists(ctx, tx, "SELECT 1 FROM readings WHERE component_id = ? AND day = ? AND hours = ?", r.ComponentID, r.Day.String(), int64(r.Hours))
		if err != nil {
			return nil, err
		}
		if known {
			continue
		}
		if err := addReading(ctx, tx, now, actor, r); err != nil {
			return nil, err
		}
		fresh = append(fresh, r)
	}
	return fresh, nil
}

// say keeps the customer's words for whoever works on the boat.
func say(ctx context.Context, tx kernel.Querier, now time.Time, actor string, n *NewAnswer) (int64, error) {
	if n.Note == "" {
		return 0, nil
	}
	return kernel.One(ctx, tx, kernel.FirstInt,
		"INSERT INTO said (at, actor, boat_id, visit_id, words) VALUES (?, ?, ?, ?, ?) RETURNING id", now.Unix(), actor, n.BoatID, n.VisitID, n.Note)
}

// callOff makes a booked visit pencilled again and returns the booking, nil if
// there was none.
func callOff(ctx context.Context, tx kernel.Querier, now time.Time, actor, visitID string) (*schedule.Booking, error) {
	was, err := bookingOrNone(ctx, tx, visitID)
	if err != nil || was == nil {
		return nil, err
	}
	return was, unbook(ctx, tx, now, actor, visitID)
}

func bookingOrNone(ctx context.Context, q kernel.Querier, visitID string) (*schedule.Booking, error) {
	b, err := booking(ctx, q, visitID)
	known, err := kernel.Found(err)
	if err != nil || !known {
		return nil, err
	}
	return &b, nil
}

func mailChoice(ctx context.Context, q kernel.Querier, customerID string) (MailChoice, error) {
	m, err := kernel.One(ctx, q, func(c *kernel.Row) MailChoice { return MailChoice{c.Bool(0), c.Bool(1)} },
		"SELECT no_reminders, no_mail FROM opt_outs WHERE customer_id = ?", customerID)
	_, err = kernel.Found(err)
	return m, err
}

// MailChoice returns which mails a customer wants no more.
func (db *Reader) MailChoice(ctx context.Context, customerID string) (MailChoice, error) {
	m, err := mailChoice(ctx, db.Read, customerID)
	return m, kernel.Wrap(err, "mails that customer %q wants", customerID)
}

// dropAbout withdraws the letters to a customer that speak of a boat and have not
// gone out.
func dropAbout(ctx context.Context, tx kernel.Querier, now time.Time, customerID, boatID, why string) error {
	_, err := Withdraw(ctx, tx, now, why, `customer_id = ?3 AND char(10) || subjects LIKE '%' || char(10) || ?4 || '.%' ESCAPE '\'`,
		customerID, match.EscapeLike(boatID))
	return kernel.Wrap(err, "drop emails about boat %q", boatID)
}
