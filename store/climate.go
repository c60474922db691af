package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
)

// PlaceClimate is what a weather file said about a place.
type PlaceClimate struct {
	Place      string
	Percentile int            // the share of autumns, 1 to 99, in which it may have frozen by LayUp
	LayUp      civil.MonthDay // last day for the lay-up; none where it seldom freezes
	Freeze     climate.Freeze // what it stands on
	File       string         // the name of the file it came from
	LoadedAt   time.Time
}

const climateColumns = "place, percentile, lay_up, freeze, file, loaded_at"

// SetPlaceClimate keeps a place's climate in the stead of an earlier one, and
// has the boats there planned anew.
func (db *DB) SetPlaceClimate(ctx context.Context, now time.Time, actor string, pc PlaceClimate) error {
	freeze, err := json.Marshal(pc.Freeze)
	if err != nil {
		return fmt.Errorf("keep the climate of %q: %w", pc.Place, err)
	}
	err = db.tx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO place_climates ("+climateColumns+") VALUES (?, ?, ?, ?, ?, ?)",
			pc.Place, pc.Percentile, pc.LayUp.String(), string(freeze), pc.File, now.Unix())
		if err != nil {
			return err
		}
		said := struct {
			Place, Station string
			LayUp          civil.MonthDay
		}{pc.Place, pc.Freeze.Station, pc.LayUp}
		return changedPlace(ctx, tx, now, pc.Place, entry{Actor: actor, What: "load a climate", After: said})
	})
	return wrap(err, "keep the climate of %q", pc.Place)
}

// RemovePlaceClimate forgets a place's climate and has the boats there planned
// anew. [ErrNotFound] if none was kept.
func (db *DB) RemovePlaceClimate(ctx context.Context, now time.Time, actor, place string) error {
	err := db.tx(ctx, func(tx *sql.Tx) error {
		_, err := one(ctx, tx, firstText, "DELETE FROM place_climates WHERE place = ? RETURNING place", place)
		if err != nil {
			return err
		}
		return changedPlace(ctx, tx, now, place, entry{Actor: actor, What: "forget a climate", Before: place})
	})
	return wrap(err, "forget the climate of %q", place)
}

// changedPlace finishes a change that concerns every boat at a place.
func changedPlace(ctx context.Context, tx querier, now time.Time, place string, e entry) error {
	if err := audit(ctx, tx, now, e); err != nil {
		return err
	}
	v, err := nextVersion(ctx, tx)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO dirty (boat_id, version) SELECT id, ? FROM boats WHERE place = ?
		ON CONFLICT (boat_id) DO UPDATE SET version = excluded.version`, v, place)
	return err
}

// PlaceClimates returns every climate that is kept, by the place's name.
func (db *DB) PlaceClimates(ctx context.Context) ([]PlaceClimate, error) {
	all, err := collect(ctx, db.read, readPlaceClimate, "SELECT "+climateColumns+" FROM place_climates ORDER BY place")
	return all, wrap(err, "read the climates of the places")
}

func readPlaceClimate(c *cells) PlaceClimate {
	pc := PlaceClimate{Place: c.text(0), Percentile: int(c.int(1)), File: c.text(4), LoadedAt: c.instant(5)}
	c.note(pc.LayUp.UnmarshalText([]byte(c.text(2))))
	c.note(json.Unmarshal([]byte(c.text(3)), &pc.Freeze))
	return pc
}
