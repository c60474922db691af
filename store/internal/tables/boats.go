package tables

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// Boat reads one boat; [kernel.ErrNotFound] if there is no such id.
func Boat(ctx context.Context, q kernel.Querier, id string) (schedule.Boat, error) {
	return kernel.One(ctx, q, ReadBoat, "SELECT "+BoatColumns+" FROM boats WHERE id = ?", id)
}

// KnownBoat returns a boat and whether there is one.
func KnownBoat(ctx context.Context, q kernel.Querier, id string) (schedule.Boat, bool, error) {
	b, err := Boat(ctx, q, id)
	ok, err := kernel.Found(err)
	return b, ok, err
}

// PutBoat writes a boat down and says whether that changed anything.
func PutBoat(ctx context.Context, q kernel.Querier, b schedule.Boat) (Change, error) {
	old, known, err := KnownBoat(ctx, q, b.ID)
	if err != nil || known && old == b {
		return Unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO boats (`+BoatColumns+`, search) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET hin = excluded.hin, name = excluded.name, make = excluded.make, model = excluded.model,
		year = excluded.year, kind = excluded.kind, length_ft = excluded.length_ft, water = excluded.water, place = excluded.place,
		berth = excluded.berth, sold_on = excluded.sold_on, warranty_until = excluded.warranty_until, gone = excluded.gone,
		winter_work = excluded.winter_work, search = excluded.search`,
		b.ID, b.HIN, b.Name, b.Make, b.Model, b.Year, b.Kind, b.LengthFt, b.Water, b.Place, b.Berth,
		kernel.DayArg(b.SoldOn), kernel.DayArg(b.WarrantyUntil), kernel.DayArg(b.Gone), kernel.BoolArg(b.WinterWork), boatSearch(b))
	if err != nil {
		return Unchanged, fmt.Errorf("write boat %q: %w", b.ID, err)
	}
	return addedOr(known), nil
}
