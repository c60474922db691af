package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store/internal/kernel"
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
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO place_climates ("+climateColumns+") VALUES (?, ?, ?, ?, ?, ?)",
			pc.Place, pc.Percentile, pc.LayUp.String(), string(freeze), pc.File, now.Unix())
		if err != nil {
			return err
		}
		for _, m := range pc.Freeze.Recent {
			if _, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO station_lows (place, day, tenths) VALUES (?, ?, ?)", pc.Place, m.Day.String(), m.Tenths); err != nil {
				return err
			}
		}
		said := struct {
			Place, Station string
			LayUp          civil.MonthDay
		}{pc.Place, pc.Freeze.Station, pc.LayUp}
		return changedPlace(ctx, tx, now, pc.Place, kernel.Entry{Actor: actor, What: "load a climate", After: said})
	})
	return kernel.Wrap(err, "keep the climate of %q", pc.Place)
}

// RemovePlaceClimate forgets a place's climate and has the boats there planned
// anew. [ErrNotFound] if none was kept.
func (db *DB) RemovePlaceClimate(ctx context.Context, now time.Time, actor, place string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		_, err := kernel.One(ctx, tx, kernel.FirstText, "DELETE FROM place_climates WHERE place = ? RETURNING place", place)
		if err != nil {
			return err
		}
		return changedPlace(ctx, tx, now, place, kernel.Entry{Actor: actor, What: "forget a climate", Before: place})
	})
	return kernel.Wrap(err, "forget the climate of %q", place)
}

// changedPlace finishes a change that concerns every boat at a place.
func changedPlace(ctx context.Context, tx kernel.Querier, now time.Time, place string, e kernel.Entry) error {
	if err := kernel.Audit(ctx, tx, now, e); err != nil {
		return err
	}
	v, err := kernel.NextVersion(ctx, tx)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO dirty (boat_id, version) SELECT id, ? FROM boats WHERE place = ?
		ON CONFLICT (boat_id) DO UPDATE SET version = excluded.version`, v, place)
	return err
}

// PlaceClimates returns every climate that is kept, by the place's name.
func (db *Reader) PlaceClimates(ctx context.Context) ([]PlaceClimate, error) {
	all, err := kernel.Collect(ctx, db.Read, readPlaceClimate, "SELECT "+climateColumns+" FROM place_climates ORDER BY place")
	return all, kernel.Wrap(err, "read the climates of the places")
}

func readPlaceClimate(c *kernel.Row) PlaceClimate {
	pc := PlaceClimate{Place: c.Text(0), Percentile: int(c.Int(1)), File: c.Text(4), LoadedAt: c.Instant(5)}
	c.Note(pc.LayUp.UnmarshalText([]byte(c.Text(2))))
	c.Note(json.Unmarshal([]byte(c.Text(3)), &pc.Freeze))
	return pc
}
