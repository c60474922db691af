package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Transfer is a boat that goes to a sister shop with its history. Each shop has a row
// of it, of the same id.
type Transfer struct {
	ID         string
	BoatID     string // in the shop that keeps the row
	CustomerID string
	Sister     string    // the name of the other shop
	Place      string    // where the boat floats at the shop that gets it
	Day        civil.Day // from which it is the other shop's
	Consent    Consent
	Actor      string // who wrote it down
	At         time.Time
	Done       bool // both shops have written it down
}

// Consent is an owner's word that a sister shop may have what this one knows of them
// and their boat.
type Consent struct {
	By  string // who gave it
	On  civil.Day
	How string // on paper, by phone
}

// The ways of a transfer: to the sister shop, or from it.
const (
	transferOut = "out"
	transferIn  = "in"
)

const transferColumns = "id, boat_id, customer_id, sister, place, day, consent_by, consent_on, consent_how, actor, at, done"

func readTransfer(c *kernel.Row) Transfer {
	return Transfer{ID: c.Text(0), BoatID: c.Text(1), CustomerID: c.Text(2), Sister: c.Text(3), Place: c.Text(4), Day: c.Day(5),
		Consent: Consent{By: c.Text(6), On: c.Day(7), How: c.Text(8)}, Actor: c.Text(9), At: c.Instant(10), Done: c.Bool(11)}
}

func writeTransfer(ctx context.Context, tx kernel.Querier, way string, t Transfer) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO transfers (way, "+transferColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		way, t.ID, t.BoatID, t.CustomerID, t.Sister, t.Place, t.Day.String(), t.Consent.By, t.Consent.On.String(), t.Consent.How, t.Actor, t.At.Unix(), kernel.BoolArg(t.Done))
	return err
}

// BeginTransfer writes down that a boat is to go to a sister shop, and who consented.
// One that has begun and is not done goes on. [ErrRefused] without consent, for a boat
// that nobody owns or that has gone, and while it is on its way elsewhere.
func (db *DB) BeginTransfer(ctx context.Context, now time.Time, actor string, t Transfer) (Transfer, error) {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		open, err := kernel.Collect(ctx, tx, readTransfer, "SELECT "+transferColumns+" FROM transfers WHERE way = 'out' AND done = 0 AND boat_id = ?", t.BoatID)
		if err != nil {
			return err
		}
		if len(open) > 0 && open[0].Sister != t.Sister {
			return fmt.Errorf("it is on its way to %s: %w", open[0].Sister, ErrRefused)
		}
		if len(open) > 0 {
			t = open[0]
			return nil
		}
		b, err := tables.Boat(ctx, tx, t.BoatID)
		if err != nil {
			return err
		}
		known, err := tables.Ownerships(ctx, tx, t.BoatID)
		if err != nil {
			return err
		}
		t.CustomerID = (&tables.Merged{All: known}).Newest()
		switch {
		case b.Gone != 0:
			return fmt.Errorf("it is inactive since %s: %w", b.Gone, ErrRefused)
		case t.CustomerID == "":
			return fmt.Errorf("no customer has it, so nobody can consent: %w", ErrRefused)
		case strings.TrimSpace(t.Consent.By) == "" || strings.TrimSpace(t.Consent.How) == "" || t.Consent.On == 0 || t.Consent.On > t.Day:
			return fmt.Errorf("write down who consented, how, and on which day until %s: %w", t.Day, ErrRefused)
		}
		t.ID, t.Actor, t.At = rand.Text(), actor, now
		if err := writeTransfer(ctx, tx, transferOut, t); err != nil {
			return err
		}
		return auditTransfer(ctx, tx, now, "send to a sister shop", t)
	})
	return t, kernel.Wrap(err, "send boat %q to %q", t.BoatID, t.Sister)
}

// FinishTransfer lets a boat go that the sister shop has: it is inactive here, its
// booked days are given up and its owner hears no more about it from this shop. What
// was paid stays in the books. A second time it does nothing, and owes nothing.
func (db *DB) FinishTransfer(ctx context.Context, now time.Time, t Transfer, owed ...Owed) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, "UPDATE transfers SET done = 1 WHERE id = ? AND way = 'out' AND done = 0", t.ID)
		if n, err := kernel.Affected(r, err); err != nil || n == 0 {
			return err
		}
		if _, err = handOver(ctx, tx, now, t.Actor, Handover{BoatID: t.BoatID, Day: t.Day, Gone: true}); err != nil {
			return err
		}
		return owe(ctx, tx, now, owed...)
	})
	return kernel.Wrap(err, "let boat %q go to %q", t.BoatID, t.Sister)
}

// OpenTransfers are those to sister shops that have begun and are not done.
func (db *Reader) OpenTransfers(ctx context.Context) ([]Transfer, error) {
	all, err := kernel.Collect(ctx, db.Read, readTransfer, "SELECT "+transferColumns+" FROM transfers WHERE way = 'out' AND done = 0 ORDER BY at, id")
	return all, kernel.Wrap(err, "list boats on their way to sister shops")
}

// SentBoat is the newest transfer of a boat to a sister shop; [ErrNotFound] if it went
// to none.
func (db *Reader) SentBoat(ctx context.Context, boatID string) (Transfer, error) {
	t, err := kernel.One(ctx, db.Read, readTransfer, "SELECT "+transferColumns+" FROM transfers WHERE way = 'out' AND boat_id = ? ORDER BY at DESC LIMIT 1", boatID)
	return t, kernel.Wrap(err, "where boat %q went", boatID)
}

// Arrival is what comes with a boat from a sister shop, beside what a [Sale] has.
type Arrival struct {
	Transfer
	NoReminders, NoMail bool   // what its owner said about emails there
	Dead                string // why their address was found dead there, "" if it was not
	FollowUps           []schedule.FollowUp
	Overrides           []schedule.Override
}

// arrived reports what a transfer made here, if it was written down before.
func arrived(ctx context.Context, tx kernel.Querier, a *Arrival, sold *Sold) (bool, error) {
	t, err := kernel.One(ctx, tx, readTransfer, "SELECT "+transferColumns+" FROM transfers WHERE way = 'in' AND id = ?", a.ID)
	sold.BoatID, sold.CustomerID = t.BoatID, t.CustomerID
	return kernel.Found(err)
}

// write writes down what comes with a boat.
func (a *Arrival) write(ctx context.Context, tx kernel.Querier, now time.Time, actor string, sold Sold, email string) error {
	if a.NoReminders || a.NoMail {
		if err := SetOptOut(ctx, tx, now, actor, sold.CustomerID, a.NoReminders, a.NoMail); err != nil {
			return err
		}
	}
	if a.Dead != "" && email != "" {
		_, err := tx.ExecContext(ctx, "INSERT INTO suppressions (address, reason, since, found_at) VALUES (lower(?), ?, ?, ?) ON CONFLICT DO NOTHING",
			email, "at "+a.Sister+": "+a.Dead, now.Unix(), a.Sister)
		if err != nil {
			return err
		}
	}
	for _, f := range a.FollowUps {
		f.ID, f.BoatID, f.ComponentID = "", sold.BoatID, sold.real(f.ComponentID)
		if err := addFollowUp(ctx, tx, now, actor, &f); err != nil {
			return err
		}
	}
	for _, o := range a.Overrides {
		o.BoatID, o.ComponentID = sold.BoatID, sold.real(o.ComponentID)
		if err := saveOverride(ctx, tx, now, actor, o); err != nil {
			return err
		}
	}
	t := a.Transfer
	t.BoatID, t.CustomerID, t.Done = sold.BoatID, sold.CustomerID, true
	if err := writeTransfer(ctx, tx, transferIn, t); err != nil {
		return err
	}
	return auditTransfer(ctx, tx, now, "take over from a sister shop", t)
}

func auditTransfer(ctx context.Context, tx kernel.Querier, now time.Time, what string, t Transfer) error {
	after := map[string]string{"sister shop": t.Sister, "consent by": t.Consent.By, "consent on": t.Consent.On.String(), "consent given": t.Consent.How}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: t.Actor, What: what, BoatID: t.BoatID, CustomerID: t.CustomerID, After: after})
}

// checkNoTransfer refuses to take back an ownership's end or beginning that is a boat's
// way to or from a sister shop, which has it by its own file.
func checkNoTransfer(ctx context.Context, tx kernel.Querier, boatID string, newest schedule.Ownership) error {
	sister, err := kernel.One(ctx, tx, kernel.FirstText, "SELECT sister FROM transfers WHERE done = 1 AND boat_id = ? AND customer_id = ? AND day = iif(way = 'out', ?, ?)",
		boatID, newest.CustomerID, kernel.DayArg(newest.To), kernel.DayArg(newest.From))
	if went, err := kernel.Found(err); err != nil || !went {
		return err
	}
	return fmt.Errorf("it went from one shop to the other, with %s: have it sent back from the shop that has it: %w", sister, ErrRefused)
}
