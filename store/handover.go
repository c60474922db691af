package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// Handover is a boat changing hands without a sale of ours: traded in to the
// shop, sold on by its owner to somebody who stays a customer, or gone from
// our care.
type Handover struct {
	BoatID string
	Day    civil.Day
	To     schedule.Customer // the new owner: of id, or new by name; neither for the shop
	Gone   bool              // it left our care
	Booked string            // what becomes of days booked from then on: [KeepBooked] or [GiveUpBooked]
}

// What becomes of the days booked for a boat when it changes hands.
const (
	KeepBooked   = "keep"
	GiveUpBooked = "give-up"
)

// HandOver writes a change of hands down in one transaction and returns the id
// of the new owner, "" for none. The boat's history stays with the hull. The
// earlier owner's calendar of the boat ends, letters to them about it that have
// not gone out are dropped, and what they answered about it is settled. Days
// booked from then on are kept or given up as the desk says; [ErrRefused] if
// there are any and it does not. Of a boat that left our care they are given up. It
// owes a new owner a welcome, and what else the caller says.
func (db *DB) HandOver(ctx context.Context, now time.Time, actor string, h Handover, owed ...Owed) (string, error) {
	var to string
	err := db.Tx(ctx, func(tx *sql.Tx) (err error) {
		if to, err = handOver(ctx, tx, now, actor, h); err != nil {
			return err
		}
		if to != "" {
			owed = append(owed[:len(owed):len(owed)], WelcomeOwed(h.BoatID, to))
		}
		return owe(ctx, tx, now, owed...)
	})
	return to, kernel.Wrap(err, "hand over boat %q", h.BoatID)
}

func handOver(ctx context.Context, tx kernel.Querier, now time.Time, actor string, h Handover) (to string, err error) {
	b, err := tables.Boat(ctx, tx, h.BoatID)
	if err != nil {
		return "", err
	}
	if to, err = handTo(ctx, tx, now, actor, &h); err != nil {
		return "", err
	}
	if h.Gone {
		b.Gone, h.Booked = h.Day, GiveUpBooked
		if err := SaveBoat(ctx, tx, now, actor, b); err != nil {
			return "", err
		}
	}
	return to, passOn(ctx, tx, now, actor, schedule.Ownership{BoatID: h.BoatID, CustomerID: to, From: h.Day}, h.Booked)
}

// handTo returns the id of who gets the boat.
func handTo(ctx context.Context, tx kernel.Querier, now time.Time, actor string, h *Handover) (string, error) {
	someone := h.To.ID != "" || h.To.Name != ""
	switch {
	case h.Day == 0:
		return "", fmt.Errorf("it needs a day: %w", ErrRefused)
	case h.Gone && someone:
		return "", fmt.Errorf("a boat that left our care has no new owner here: %w", ErrRefused)
	case !someone:
		return "", nil
	}
	return saveBuyer(ctx, tx, now, actor, h.To)
}

// passOn gives a boat to its next owner, "" for the shop, and ends what the one
// before had of it.
func passOn(ctx context.Context, tx kernel.Querier, now time.Time, actor string, next schedule.Ownership, booked string) error {
	boatID, to, day := next.BoatID, next.CustomerID, next.From
	known, err := tables.Ownerships(ctx, tx, boatID)
	if err != nil {
		return err
	}
	before := (&tables.Merged{All: known}).Newest()
	if takenInThatDay(known, day) && to != "" {
		err = sellOnThatDay(ctx, tx, now, actor, next, known)
	} else {
		err = SetOwner(ctx, tx, now, actor, boatID, to, day)
	}
	if err != nil {
		return err
	}
	after, err := tables.Ownerships(ctx, tx, boatID)
	if err != nil {
		return err
	}
	if now := (&tables.Merged{All: after}).Newest(); now != to {
		return fmt.Errorf("by the file somebody has had it since a later day than %s; correct the day: %w", day, ErrRefused)
	}
	if before != "" && before != to {
		if err := dropAbout(ctx, tx, now, before, boatID, "the boat has changed owners"); err != nil {
			return err
		}
	}
	if err := passOnBooked(ctx, tx, now, actor, boatID, day, booked); err != nil {
		return err
	}
	return SeeToAnswers(ctx, tx, now, actor, "boat_id = ? AND kind <> 'call'", boatID)
}

// takenInThatDay reports whether the shop got the boat on the very day.
func takenInThatDay(known []tables.Ownership, day civil.Day) bool {
	return len(known) > 0 && known[len(known)-1].To == day
}

// sellOnThatDay gives a boat to a customer on the day on which the shop got it,
// so that the shop never had it by the file.
func sellOnThatDay(ctx context.Context, tx kernel.Querier, now time.Time, actor string, next schedule.Ownership, known []tables.Ownership) error {
	m := &tables.Merged{All: append(slices.Clone(known), tables.Ownership{Claim: tables.Claim{Customer: next.CustomerID, From: next.From}}), Changed: true}
	if err := SetOwners(ctx, tx, now, next.BoatID, known, m); err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "change the owner", BoatID: next.BoatID, CustomerID: next.CustomerID, After: next})
}

// passOnBooked keeps or gives up what is booked for a boat from a day on, and
// leaves a line in the audit log for each.
func passOnBooked(ctx context.Context, tx kernel.Querier, now time.Time, actor, boatID string, from civil.Day, booked string) error {
	all, err := kernel.Collect(ctx, tx, tables.ReadBooking,
		"SELECT "+tables.BookingColumns+" FROM bookings WHERE boat_id = ? AND day >= ? ORDER BY day, visit_id", boatID, from.String())
	if err != nil {
		return err
	}
	for _, b := range all {
		switch booked {
		case GiveUpBooked:
			err = unbook(ctx, tx, now, actor, b.VisitID)
		case KeepBooked:
			err = kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "keep the booked day", BoatID: boatID, After: b})
		default:
			err = fmt.Errorf("visit %q is booked for %s; say whether that day is kept or given up: %w", b.VisitID, b.Day, ErrRefused)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// BoatByHIN finds a boat by its hull identification number, written in any way;
// [ErrNotFound] if none or more than one has it, and for what is no number of any
// era ("TBD"): see [hin.Identity].
func (db *Reader) BoatByHIN(ctx context.Context, text string) (schedule.Boat, error) {
	all, err := kernel.Collect(ctx, db.Read, tables.ReadBoat, "SELECT "+tables.BoatColumns+" FROM boats WHERE hin = ? AND hin <> '' LIMIT 2", hin.Identity(text))
	if err == nil && len(all) != 1 {
		err = ErrNotFound
	}
	if err != nil {
		return schedule.Boat{}, fmt.Errorf("boat with HIN %q: %w", text, err)
	}
	return all[0], nil
}

// FindCustomers finds customers by a piece of their name, id or mail address,
// or by four or more digits of their telephone number, boat or no boat.
func (db *Reader) FindCustomers(ctx context.Context, text string, limit int) ([]schedule.Customer, error) {
	text = match.Fold(text)
	if text == "" {
		return nil, nil
	}
	var phone any // NULL is like nothing
	if d := match.Digits(text); len(d) >= 4 {
		phone = "%" + d + "%"
	}
	all, err := kernel.Collect(ctx, db.Read, tables.ReadCustomer, "SELECT "+tables.CustomerColumns+
		` FROM customers WHERE search LIKE ?1 ESCAPE '\' OR search LIKE ?2 ESCAPE '\' ORDER BY name, id LIMIT ?3`,
		"%"+match.EscapeLike(text)+"%", phone, kernel.LimitOr(limit))
	return all, kernel.Wrap(err, "find customer %q", text)
}
