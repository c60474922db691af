package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// Entries that were a mistake are taken back. What was written then and that it was
// taken back stay in the change history; everything that follows from facts follows
// on this too. form is as with [DB.RecordWork].

// Mistake is what was written down of a boat and is not so.
type Mistake struct {
	BoatID   string
	Records  []schedule.Record
	Readings []schedule.Reading
}

// TakeBackWork takes back work and readings; with a season visit the haul-out or
// launch that was written down with it. An email that tells of the work and has
// not gone out is withdrawn. [ErrNotFound] if something of it is not on file, and
// then nothing is taken back.
func (db *DB) TakeBackWork(ctx context.Context, now time.Time, actor, form string, m Mistake, owed ...Owed) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		b, err := tables.Boat(ctx, tx, m.BoatID)
		if err != nil {
			return err
		}
		for i := range m.Records {
			if err := removeRecord(ctx, tx, now, actor, m.BoatID, m.Records[i].ID); err != nil {
				return fmt.Errorf("record %q: %w", m.Records[i].ID, err)
			}
		}
		for i := range m.Records {
			if err := removeSeasonEvent(ctx, tx, now, actor, &b, &m.Records[i]); err != nil {
				return err
			}
		}
		for _, r := range m.Readings {
			if err := removeReading(ctx, tx, now, actor, r); err != nil {
				return fmt.Errorf("reading of %q: %w", r.ComponentID, err)
			}
		}
		_, err = Withdraw(ctx, tx, now, "what it tells of was taken back", `step = ?3 AND char(10) || subjects LIKE '%' || char(10) || ?4 || '.%' ESCAPE '\'`,
			string(schedule.StepSummary), match.EscapeLike(m.BoatID))
		if err != nil {
			return err
		}
		return owe(ctx, tx, now, owed...)
	})
	return kernel.Wrap(err, "take back work on boat %q", m.BoatID)
}

// removeSeasonEvent takes back the haul-out or launch of a season visit, unless
// another record of that day says that the visit took place.
func removeSeasonEvent(ctx context.Context, tx kernel.Querier, now time.Time, actor string, b *schedule.Boat, r *schedule.Record) error {
	ev, ok := b.SeasonEvent(r)
	if !ok {
		return nil
	}
	stands, err := kernel.Exists(ctx, tx, "SELECT 1 FROM records WHERE boat_id = ? AND day = ? AND service = ?", b.ID, r.Day.String(), r.Service)
	if err != nil || stands {
		return err
	}
	id, err := kernel.One(ctx, tx, kernel.FirstText, "SELECT id FROM records WHERE boat_id = ? AND day = ? AND service = ? AND amount = 0 ORDER BY id LIMIT 1",
		b.ID, ev.Day.String(), ev.Service)
	if known, err := kernel.Found(err); err != nil || !known {
		return err
	}
	return removeRecord(ctx, tx, now, actor, b.ID, id)
}

// TakeBackOwner takes back the newest change of a boat's owner: a sale, a
// trade-in, a change of owner, or that it is inactive. Whoever had it before has
// it again. newest is the ownership as somebody saw it: [ErrStale] if another is
// the newest now. With a sale of ours go the work, readings and measurements that
// were written down with it. What booked days were given up stay so.
func (db *DB) TakeBackOwner(ctx context.Context, now time.Time, actor, form, boatID string, newest schedule.Ownership, owed ...Owed) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		known, err := tables.Ownerships(ctx, tx, boatID)
		if err != nil {
			return err
		}
		n := len(known)
		if n == 0 || known[n-1].Customer != newest.CustomerID || known[n-1].From != newest.From || known[n-1].To != newest.To {
			return ErrStale
		}
		if err := checkNoTransfer(ctx, tx, boatID, newest); err != nil {
			return err
		}
		all := slices.Clone(known)
		if all[n-1].To != 0 { // traded in or inactive
			all[n-1].To = 0
		} else {
			if all = all[:n-1]; n > 1 && all[n-2].To == newest.From {
				all[n-2].To = 0
			}
			if err := dropAbout(ctx, tx, now, newest.CustomerID, boatID, "the change of owner was taken back"); err != nil {
				return err
			}
		}
		if err := SetOwners(ctx, tx, now, boatID, known, &tables.Merged{All: all, Changed: true}); err != nil {
			return err
		}
		if err := takeBackSale(ctx, tx, now, actor, boatID, newest); err != nil {
			return err
		}
		if err := owe(ctx, tx, now, owed...); err != nil {
			return err
		}
		return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "take back the change of owner", BoatID: boatID, CustomerID: newest.CustomerID, Before: known, After: all})
	})
	return kernel.Wrap(err, "take back the owner of boat %q", boatID)
}

// takeBackSale puts the boat back to what it was before it was sold or given up,
// and takes back what was written down in the same moment as the sale.
func takeBackSale(ctx context.Context, tx kernel.Querier, now time.Time, actor, boatID string, newest schedule.Ownership) error {
	b, err := tables.Boat(ctx, tx, boatID)
	if err != nil {
		return err
	}
	was := b
	b.Gone = 0
	if newest.To == 0 && newest.From != 0 && b.SoldOn == newest.From {
		if err := takeBackWith(ctx, tx, now, actor, boatID, newest, &b); err != nil {
			return err
		}
	}
	if b == was {
		return nil
	}
	return SaveBoat(ctx, tx, now, actor, b)
}

// written is a line of the change history that can be reversed.
type written struct{ what, before, after string }

// takeBackWith reverses what the change history shows of the sale's moment. For a
// sale of which it shows nothing, an import, only the day of the sale goes.
func takeBackWith(ctx context.Context, tx kernel.Querier, now time.Time, actor, boatID string, sold schedule.Ownership, b *schedule.Boat) error {
	b.SoldOn, b.WarrantyUntil = 0, 0
	all, err := kernel.Collect(ctx, tx, func(c *kernel.Row) written { return written{c.Text(0), c.Text(1), c.Text(2)} },
		`SELECT what, coalesce(before, ''), coalesce(after, '') FROM audit WHERE boat_id = ?1 AND (at, actor) = (SELECT at, actor FROM audit
			WHERE boat_id = ?1 AND customer_id = ?2 AND what = 'change the owner' ORDER BY id DESC LIMIT 1) ORDER BY id`, boatID, sold.CustomerID)
	if err != nil {
		return err
	}
	for _, w := range all {
		if err := reverse(ctx, tx, now, actor, b, w); err != nil {
			return fmt.Errorf("%s: %w", w.what, err)
		}
	}
	return nil
}

// reverse takes one line back; what is no longer on file was taken back already.
func reverse(ctx context.Context, tx kernel.Querier, now time.Time, actor string, b *schedule.Boat, w written) (err error) {
	if w.after == "" {
		return nil // its person was erased
	}
	switch w.what {
	case "save a boat":
		var was schedule.Boat
		if w.before == "" {
			return nil // the sale brought the boat itself, which stays
		}
		err = json.Unmarshal([]byte(w.before), &was)
		b.SoldOn, b.WarrantyUntil = was.SoldOn, was.WarrantyUntil
		return err
	case "record work":
		var r schedule.Record
		if err := json.Unmarshal([]byte(w.after), &r); err != nil {
			return err
		}
		err = removeRecord(ctx, tx, now, actor, b.ID, r.ID)
	case "read a meter":
		var r schedule.Reading
		if err := json.Unmarshal([]byte(w.after), &r); err != nil {
			return err
		}
		err = removeReading(ctx, tx, now, actor, r)
	case "measure":
		var m Measurement
		if err := json.Unmarshal([]byte(w.after), &m); err != nil {
			return err
		}
		return removeMeasurement(ctx, tx, now, actor, m)
	}
	_, err = kernel.Found(err)
	return err
}

func removeMeasurement(ctx context.Context, tx kernel.Querier, now time.Time, actor string, m Measurement) error {
	_, err := tx.ExecContext(ctx, `DELETE FROM measurements WHERE id = (SELECT max(id) FROM measurements
		WHERE boat_id = ? AND component_id = ? AND day = ? AND kind = ? AND words = ?)`, m.BoatID, m.ComponentID, m.Day.String(), m.Kind, m.Words)
	if err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove a measurement", BoatID: m.BoatID, Before: m})
}

// Call returns one call to a customer.
func (db *Reader) Call(ctx context.Context, id int64) (Call, error) {
	c, err := kernel.One(ctx, db.Read, readCall, "SELECT "+callColumns+" FROM calls WHERE id = ?", id)
	return c, kernel.Wrap(err, "call %d", id)
}

// TakeBackCall takes back a call that did not take place, or was another's, with
// what it settled and what the customer was taken to have said.
func (db *DB) TakeBackCall(ctx context.Context, now time.Time, actor, form string, id int64) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		c, err := kernel.One(ctx, tx, readCall, "DELETE FROM calls WHERE id = ? RETURNING "+callColumns, id)
		if err != nil {
			return err
		}
		if err := reopenAfterCall(ctx, tx, now, &c); err != nil {
			return err
		}
		e := kernel.Entry{Actor: actor, What: "take back a call", BoatID: c.BoatID, CustomerID: c.CustomerID, Before: c}
		if c.BoatID == "" {
			return kernel.Audit(ctx, tx, now, e)
		}
		return changedFact(ctx, tx, now, e)
	})
	return kernel.Wrap(err, "take back call %d", id)
}

// reopenAfterCall has what was said in a call count no more, and opens again what
// it settled.
func reopenAfterCall(ctx context.Context, tx kernel.Querier, now time.Time, c *Call) error {
	at := c.At.Unix()
	_, err := tx.ExecContext(ctx, "UPDATE answers SET undone_at = ? WHERE customer_id = ? AND at = ? AND seen_at = at AND seen_by = ? AND kind IN ('decline', 'later')",
		now.Unix(), c.CustomerID, at, c.Actor)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE answers SET seen_at = NULL, seen_by = '' WHERE customer_id = ? AND seen_at = ? AND seen_by = ? AND kind = 'call'",
		c.CustomerID, at, c.Actor)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "DELETE FROM said WHERE at = ? AND actor = ? AND boat_id = ? AND visit_id = ?", at, c.Actor, c.BoatID, c.VisitID)
	return err
}

// TakenBack is a piece of work that was on file and was taken back.
type TakenBack struct {
	Record schedule.Record
	Actor  string
	On     time.Time
}

// TakenBackOf returns the work on a boat that was taken back, newest first.
func (db *Reader) TakenBackOf(ctx context.Context, boatID string) ([]TakenBack, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) TakenBack {
		t := TakenBack{Actor: c.Text(0), On: c.Instant(1)}
		c.Note(json.Unmarshal([]byte(c.Text(2)), &t.Record))
		return t
	}, "SELECT actor, at, before FROM audit WHERE boat_id = ? AND what = 'remove a record' AND before IS NOT NULL ORDER BY id DESC", boatID)
	return all, kernel.Wrap(err, "work on boat %q that was taken back", boatID)
}
