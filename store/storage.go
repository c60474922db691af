package store

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// storedAtMost is for how many days a boat counts as stored after its lay-up or
// haul-out if nothing says that it was launched. Common practice, no source.
const storedAtMost = 300

// StoredBatteries returns the batteries of boats that stand with the shop on a
// day: kept with us, laid up or hauled out and not launched or fitted out since.
func (db *DB) StoredBatteries(ctx context.Context, today civil.Day) ([]schedule.StoredBattery, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) schedule.StoredBattery {
		s := schedule.StoredBattery{
			Boat: schedule.Boat{ID: c.Text(0), Name: c.Text(1), Make: c.Text(2), Model: c.Text(3), Year: int(c.Int(4)),
				Kind: c.Text(5), Water: c.Text(6), Berth: c.Text(7)},
			Battery: schedule.Component{BoatID: c.Text(0), ID: c.Text(8), Kind: "battery", Label: c.Text(9)},
			Stored:  c.Day(11), Charged: c.Day(12),
		}
		s.Battery.Attr.Kind, s.Battery.Attr.Extra = "battery", c.Text(10)
		tables.CopyBoatAttr(&s.Battery, &s.Boat)
		return s
	}, `SELECT id, name, make, model, year, kind, water, berth, battery, label, extra, stored,
			(SELECT max(day) FROM records r WHERE r.boat_id = s.id AND r.day >= s.stored AND r.day <= ?
				AND r.service IN ('battery-charge', 'battery') AND r.component_id IN ('', s.battery))
		FROM (
			SELECT b.*, c.id AS battery, c.label, c.extra,
				(SELECT max(day) FROM records r WHERE r.boat_id = b.id AND r.day >= ? AND r.day <= ? AND r.service IN ('lay-up', 'haul-out')) AS stored,
				(SELECT max(day) FROM records r WHERE r.boat_id = b.id AND r.day >= ? AND r.day <= ? AND r.service IN ('fit-out', 'launch')) AS afloat
			FROM boats b JOIN components c ON c.boat_id = b.id AND c.kind = 'battery'
			WHERE b.berth LIKE 'shop-%' AND (b.gone IS NULL OR b.gone > ?)
		) s
		WHERE stored IS NOT NULL AND (afloat IS NULL OR afloat < stored)
		ORDER BY berth, id, battery`,
		today.String(), (today - storedAtMost).String(), today.String(), (today - storedAtMost).String(), today.String(), today.String())
	return all, kernel.Wrap(err, "read the batteries in storage")
}
