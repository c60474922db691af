package store

import (
	"context"
	"database/sql"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// SetOverride changes a rule for one boat or component.
func (db *DB) SetOverride(ctx context.Context, now time.Time, actor string, o schedule.Override) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return saveOverride(ctx, tx, now, actor, o) })
	return kernel.Wrap(err, "override rule %q on boat %q", o.Rule, o.BoatID)
}

func saveOverride(ctx context.Context, tx kernel.Querier, now time.Time, actor string, o schedule.Override) error {
	if err := checkPart(ctx, tx, o.BoatID, o.ComponentID); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO overrides (`+tables.OverrideColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (boat_id, component_id, rule) DO UPDATE SET months = excluded.months, hours = excluded.hours,
		skip = excluded.skip, by_customer = excluded.by_customer, source = excluded.source`,
		o.BoatID, o.ComponentID, o.Rule, o.Months, int64(o.Hours), kernel.BoolArg(o.Skip), kernel.BoolArg(o.ByCustomer), o.Source)
	if err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "override a rule", BoatID: o.BoatID, After: o})
}

// RemoveOverride puts a rule back to what the catalog says.
func (db *DB) RemoveOverride(ctx context.Context, now time.Time, actor, boatID, componentID, rule string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		old, err := kernel.One(ctx, tx, tables.ReadOverride, "DELETE FROM overrides WHERE boat_id = ? AND component_id = ? AND rule = ? RETURNING "+tables.OverrideColumns,
			boatID, componentID, rule)
		if err != nil {
			return err
		}
		return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove an override", BoatID: boatID, Before: old})
	})
	return kernel.Wrap(err, "remove the override of rule %q on boat %q", rule, boatID)
}
