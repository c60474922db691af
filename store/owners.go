package store

import (
	"context"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// SetOwner writes down that a boat went to a customer on a day, "" for the shop
// itself. The owner before loses it on that day: the boat's calendar address
// stops working, and what the owner was told counts no more.
func SetOwner(ctx context.Context, tx kernel.Querier, now time.Time, actor, boatID, customerID string, from civil.Day) error {
	if _, err := tables.Boat(ctx, tx, boatID); err != nil {
		return err
	}
	known, err := tables.Ownerships(ctx, tx, boatID)
	if err != nil {
		return err
	}
	m, err := tables.MergeClaims(boatID, known, []tables.Claim{{Customer: customerID, From: from}})
	if err != nil {
		return fmt.Errorf("%w: %w", err, ErrRefused)
	}
	if !m.Changed {
		return nil
	}
	if err := SetOwners(ctx, tx, now, boatID, known, m); err != nil {
		return err
	}
	after := schedule.Ownership{BoatID: boatID, CustomerID: customerID, From: from}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "change the owner", BoatID: boatID, CustomerID: customerID, After: after})
}

// SetOwners writes a boat's owners and does what a change of hands asks for:
// the earlier owner's calendar forgets the boat and its address stops working,
// and the new owner has been told nothing yet.
func SetOwners(ctx context.Context, tx kernel.Querier, now time.Time, boatID string, known []tables.Ownership, m *tables.Merged) error {
	if err := tables.ReplaceOwnerships(ctx, tx, boatID, m.All); err != nil {
		return err
	}
	before := (&tables.Merged{All: known}).Newest()
	after := m.Newest()
	if before == after {
		return nil
	}
	for _, s := range []string{
		"UPDATE visits SET told_week = NULL, missed_day = NULL WHERE boat_id = ?",
		// Their texts and links speak to the earlier owner.
		"UPDATE feed_events SET live = 0 WHERE boat_id = ?",
	} {
		if _, err := tx.ExecContext(ctx, s, boatID); err != nil {
			return fmt.Errorf("change of hands of boat %q: %w", boatID, err)
		}
	}
	if len(known) > 0 {
		// That was the earlier owner's word.
		if _, err := tx.ExecContext(ctx, "UPDATE boats SET winter_work = 0 WHERE id = ?", boatID); err != nil {
			return fmt.Errorf("change of hands of boat %q: %w", boatID, err)
		}
		if _, err := BumpFeed(ctx, tx, now, FeedBoat, boatID); err != nil {
			return err
		}
	}
	for _, c := range []string{before, after} {
		if c == "" {
			continue
		}
		if err := TouchFeed(ctx, tx, now, FeedCustomer, c); err != nil {
			return err
		}
	}
	return nil
}

// Ownerships returns the owners of a boat, the present one last.
func (db *Reader) Ownerships(ctx context.Context, boatID string) ([]schedule.Ownership, error) {
	all, err := tables.Ownerships(ctx, db.Read, boatID)
	if err != nil {
		return nil, fmt.Errorf("owners of boat %q: %w", boatID, err)
	}
	out := make([]schedule.Ownership, len(all))
	for i, o := range all {
		out[i] = schedule.Ownership{BoatID: boatID, CustomerID: o.Customer, From: o.From, To: o.To}
	}
	return out, nil
}
