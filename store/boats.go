package store

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

func boat(ctx context.Context, q kernel.Querier, id string) (schedule.Boat, error) {
	return kernel.One(ctx, q, readBoat, "SELECT "+boatColumns+" FROM boats WHERE id = ?", id)
}

// knownBoat returns a boat and whether there is one.
func knownBoat(ctx context.Context, q kernel.Querier, id string) (schedule.Boat, bool, error) {
	b, err := boat(ctx, q, id)
	ok, err := kernel.Found(err)
	return b, ok, err
}

// Boat returns one boat; [ErrNotFound] if there is no such id.
func (db *DB) Boat(ctx context.Context, id string) (schedule.Boat, error) {
	b, err := boat(ctx, db.Read, id)
	if err != nil {
		return b, fmt.Errorf("read boat %q: %w", id, err)
	}
	return b, nil
}

// putBoat writes a boat down and says whether that changed anything.
func putBoat(ctx context.Context, q kernel.Querier, b schedule.Boat) (change, error) {
	old, known, err := knownBoat(ctx, q, b.ID)
	if err != nil || known && old == b {
		return unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO boats (`+boatColumns+`, search) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET hin = excluded.hin, name = excluded.name, make = excluded.make, model = excluded.model,
		year = excluded.year, kind = excluded.kind, length_ft = excluded.length_ft, water = excluded.water, place = excluded.place,
		berth = excluded.berth, sold_on = excluded.sold_on, warranty_until = excluded.warranty_until, gone = excluded.gone,
		search = excluded.search`,
		b.ID, b.HIN, b.Name, b.Make, b.Model, b.Year, b.Kind, b.LengthFt, b.Water, b.Place, b.Berth,
		kernel.DayArg(b.SoldOn), kernel.DayArg(b.WarrantyUntil), kernel.DayArg(b.Gone), boatSearch(b))
	if err != nil {
		return unchanged, fmt.Errorf("write boat %q: %w", b.ID, err)
	}
	return addedOr(known), nil
}
