package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// NewID begins the stand-in for the id of something that a sale adds: "new-1".
// The store puts the real id in its place wherever the sale names it.
const NewID = "new-"

// NewHull stands in, in what an [Arrival] brings, for the hull, whose id is the boat's.
const NewHull = NewID + "hull"

// Sale is a boat going to its buyer, with everything that starts its clocks:
// what it is made of, the work done before, and what the meters show.
type Sale struct {
	Form       string            // names the form, which is taken once
	Service    bool              // no sale of ours: a customer brings a boat, which is theirs since Day
	Day        civil.Day         // of the sale
	Buyer      schedule.Customer // with the id of one on file, or without and new
	Boat       schedule.Boat     // with the id of one on file, or without and new
	Components []schedule.Component
	Work       Work   // its boat and new components are named by the store
	Booked     string // what becomes of days booked for a boat in stock: as [Handover.Booked]
	// Arrival is what comes with a boat from a sister shop, which is taken once, and
	// not by Form; nil for any other sale.
	Arrival *Arrival
}

// Sold is what a sale made.
type Sold struct {
	CustomerID, BoatID string
	Components         map[string]string // stand-ins and the ids in their place
}

// Sell writes a sale down in one transaction. [ErrRefused] if the boat is still
// somebody's by the file: it must be taken in first, so that no slip of the pen
// takes a boat away from its owner. What [DB.RecordWork]
// refuses is refused here too, and then nothing is written.
func (db *DB) Sell(ctx context.Context, now time.Time, actor string, s Sale) (Sold, error) {
	var sold Sold
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if s.Arrival != nil {
			if before, err := arrived(ctx, tx, s.Arrival, &sold); err != nil || before {
				return err
			}
		} else if err := TakeForm(ctx, tx, now, s.Form); err != nil {
			return err
		}
		var err error
		if sold.CustomerID, err = saveBuyer(ctx, tx, now, actor, s.Buyer); err != nil {
			return err
		}
		if sold.BoatID, err = saveSoldBoat(ctx, tx, now, actor, &s); err != nil {
			return err
		}
		if sold.Components, err = saveParts(ctx, tx, now, actor, sold.BoatID, s.Components); err != nil {
			return err
		}
		if s.Arrival != nil {
			sold.Components[NewHull] = sold.BoatID
		}
		if err := writeSoldWork(ctx, tx, now, actor, sold, s.Work); err != nil {
			return err
		}
		if s.Arrival != nil {
			if err := s.Arrival.write(ctx, tx, now, actor, sold, s.Buyer.Email); err != nil {
				return err
			}
		}
		if err := passOn(ctx, tx, now, actor, schedule.Ownership{BoatID: sold.BoatID, CustomerID: sold.CustomerID, From: s.Day}, s.Booked); err != nil || s.Service {
			return err
		}
		return owe(ctx, tx, now, WelcomeOwed(sold.BoatID, sold.CustomerID))
	})
	return sold, kernel.Wrap(err, "sell boat %q", s.Boat.ID)
}

// saveBuyer returns the id of the buyer, who is added if new. Of one on file,
// what the form knows better is changed and what it leaves empty stays.
func saveBuyer(ctx context.Context, tx kernel.Querier, now time.Time, actor string, c schedule.Customer) (string, error) {
	if c.ID == "" {
		if strings.TrimSpace(c.Name) == "" {
			return "", fmt.Errorf("the new owner has no name: %w", ErrRefused)
		}
		id, err := nextID(ctx, tx, "customers", "NC")
		if err != nil {
			return "", err
		}
		c.ID = id
		return id, SaveCustomer(ctx, tx, now, actor, c)
	}
	old, err := tables.Customer(ctx, tx, c.ID)
	if err != nil {
		return "", err
	}
	for _, f := range []struct{ new, old *string }{
		{&c.Name, &old.Name}, {&c.Email, &old.Email}, {&c.Phone, &old.Phone}, {&c.Address, &old.Address},
		{&c.City, &old.City}, {&c.Region, &old.Region}, {&c.PostalCode, &old.PostalCode}, {&c.ContactBy, &old.ContactBy},
		{&c.Language, &old.Language},
	} {
		if *f.new == "" {
			*f.new = *f.old
		}
	}
	return c.ID, SaveCustomer(ctx, tx, now, actor, c)
}

// nextID is a free id: a prefix that no imported file should use, and a number
// above all that follow it.
func nextID(ctx context.Context, q kernel.Querier, table, prefix string) (string, error) {
	n, err := kernel.One(ctx, q, kernel.FirstInt,
		"SELECT coalesce(max(CAST(substr(id, ?2) AS INTEGER)), 0) + 1 FROM "+table+" WHERE id GLOB ?1 || '[0-9]*'", prefix, len(prefix)+1)
	return prefix + fmt.Sprintf("%04d", n), err
}

// saveSoldBoat returns the id of the boat, which is added if new.
func saveSoldBoat(ctx context.Context, tx kernel.Querier, now time.Time, actor string, s *Sale) (string, error) {
	b := s.Boat
	if b.Gone = 0; !s.Service {
		b.SoldOn = s.Day
	}
	if b.ID == "" {
		id, err := nextID(ctx, tx, "boats", "NB")
		if err != nil {
			return "", err
		}
		b.ID = id
		return id, SaveBoat(ctx, tx, now, actor, b)
	}
	if _, err := tables.Boat(ctx, tx, b.ID); err != nil {
		return "", err
	}
	known, err := tables.Ownerships(ctx, tx, b.ID)
	if err != nil {
		return "", err
	}
	if owner := (&tables.Merged{All: known}).Newest(); owner != "" {
		return "", fmt.Errorf("by the file it is still customer %q's; record the trade-in first: %w", owner, ErrRefused)
	}
	return b.ID, SaveBoat(ctx, tx, now, actor, b)
}

// saveParts adds and changes components and returns the ids of the new ones.
func saveParts(ctx context.Context, tx kernel.Querier, now time.Time, actor, boatID string, parts []schedule.Component) (map[string]string, error) {
	ids := make(map[string]string)
	for _, p := range parts {
		p.BoatID = boatID
		if strings.HasPrefix(p.ID, NewID) {
			id, err := nextPartID(ctx, tx, boatID, p.Kind)
			if err != nil {
				return nil, err
			}
			ids[p.ID], p.ID = id, id
		}
		if err := SaveComponent(ctx, tx, now, actor, p); err != nil {
			return nil, err
		}
	}
	return ids, nil
}

// nextPartID is a free id for a component: its boat's and a number, "B7-engine-2".
func nextPartID(ctx context.Context, q kernel.Querier, boatID, kind string) (string, error) {
	for n := 1; ; n++ {
		id := boatID + "-" + kind + "-" + strconv.Itoa(n)
		_, err := tables.HomeOf(ctx, q, id)
		if taken, err := kernel.Found(err); err != nil || !taken {
			return id, err
		}
	}
}

// real is the id of a component that a sale names by its stand-in or its id.
func (s *Sold) real(id string) string {
	if r, ok := s.Components[id]; ok {
		return r
	}
	return id
}

// writeSoldWork writes down the work before the sale under the real ids.
func writeSoldWork(ctx context.Context, tx kernel.Querier, now time.Time, actor string, sold Sold, w Work) error {
	for _, r := range w.Readings {
		r.ComponentID = sold.real(r.ComponentID)
		if err := addReading(ctx, tx, now, actor, r); err != nil {
			return err
		}
	}
	for _, r := range w.Records {
		r.BoatID, r.ComponentID = sold.BoatID, sold.real(r.ComponentID)
		if err := addRecord(ctx, tx, now, actor, &r); err != nil {
			return err
		}
	}
	for _, m := range w.Measurements {
		m.BoatID, m.ComponentID = sold.BoatID, sold.real(m.ComponentID)
		if err := addMeasurement(ctx, tx, now, actor, m); err != nil {
			return err
		}
	}
	return nil
}
