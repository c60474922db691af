package tables

import (
	"context"
	"fmt"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// PutComponent writes a component down and says whether that changed anything.
// What its attributes take from the boat is not kept with it.
func PutComponent(ctx context.Context, q kernel.Querier, p schedule.Component) (Change, error) {
	p.Attr.Kind, p.Attr.Water, p.Attr.Berth, p.Attr.BoatKind = p.Kind, "", "", ""
	if p.Duty == 0 {
		p.Duty = 100
	}
	old, err := kernel.One(ctx, q, ReadComponent, "SELECT "+ComponentColumns+" FROM components WHERE boat_id = ? AND id = ?", p.BoatID, p.ID)
	known, err := kernel.Found(err)
	if err != nil || known && old == p {
		return Unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO components (`+ComponentColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (boat_id, id) DO UPDATE SET kind = excluded.kind, label = excluded.label, in_service = excluded.in_service,
		expires = excluded.expires, made = excluded.made, propulsion = excluded.propulsion, stroke = excluded.stroke,
		fuel = excluded.fuel, cooling = excluded.cooling, family = excluded.family, extra = excluded.extra, duty = excluded.duty`,
		p.BoatID, p.ID, p.Kind, p.Label, kernel.DayArg(p.InService), kernel.DayArg(p.Expires), kernel.DayArg(p.Made), p.Attr.Propulsion,
		p.Attr.Stroke, p.Attr.Fuel, p.Attr.Cooling, p.Attr.Family, p.Attr.Extra, p.Duty)
	if err != nil {
		return Unchanged, fmt.Errorf("write component %q: %w", p.ID, err)
	}
	return addedOr(known), nil
}

// HomeOf returns the boat of a component; a boat's own id stands for its hull.
func HomeOf(ctx context.Context, q kernel.Querier, id string) (string, error) {
	return kernel.One(ctx, q, kernel.FirstText,
		"SELECT boat_id FROM components WHERE id = ? UNION ALL SELECT id FROM boats WHERE id = ?", id, id)
}
