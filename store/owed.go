package store

import (
	"context"
	"database/sql"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// Owed is an email that a change has still to have queued. It is written in the change's
// transaction and paid once the email waits, or none is to go out.
type Owed struct {
	Step       schedule.Step
	CustomerID string
	Subjects   []string // what it is about; of a correction the boat and the number of the email that it corrects
}

// WelcomeOwed is the welcome of a boat's new owner.
func WelcomeOwed(boatID, customerID string) Owed {
	return Owed{Step: schedule.StepWelcome, CustomerID: customerID, Subjects: []string{schedule.WelcomeSubject(boatID)}}
}

// owe writes down what a change owes.
func owe(ctx context.Context, tx kernel.Querier, now time.Time, all ...Owed) error {
	for _, o := range all {
		_, err := tx.ExecContext(ctx, "INSERT INTO owed (step, customer_id, subjects, at) VALUES (?, ?, ?, ?)",
			string(o.Step), o.CustomerID, kernel.JoinLines(o.Subjects), now.Unix())
		if err != nil {
			return err
		}
	}
	return nil
}

// Owed returns the emails that changes until a moment have still to have queued, in order.
func (db *Reader) Owed(ctx context.Context, until time.Time) ([]Owed, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Owed {
		return Owed{schedule.Step(c.Text(0)), c.Text(1), c.Lines(2)}
	}, "SELECT step, customer_id, subjects FROM owed WHERE at <= ? ORDER BY id", until.Unix())
	return all, kernel.Wrap(err, "list the emails that are owed")
}

// PayOwed takes out what is owed no longer.
func (db *DB) PayOwed(ctx context.Context, o Owed) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM owed WHERE step = ? AND customer_id = ? AND subjects = ?", string(o.Step), o.CustomerID, kernel.JoinLines(o.Subjects))
		return err
	})
	return kernel.Wrap(err, "note that an email is queued")
}
