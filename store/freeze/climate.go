package freeze

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Climate is what a weather file said about a place.
type Climate struct {
	Place      string
	Percentile int            // the share of autumns, 1 to 99, in which it may have frozen by LayUp
	LayUp      civil.MonthDay // last day for the lay-up; none where it seldom freezes
	Freeze     climate.Freeze // what it stands on
	File       string         // the name of the file it came from
	LoadedAt   time.Time
}

const climateColumns = "place, percentile, lay_up, freeze, file, loaded_at"

// SetClimate keeps a place's climate in the stead of an earlier one, and
// has the boats there planned again.
func SetClimate(ctx context.Context, db *store.DB, now time.Time, actor string, pc Climate) error {
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

// RemoveClimate forgets a place's climate and has the boats there planned
// again. [store.ErrNotFound] if none was kept.
func RemoveClimate(ctx context.Context, db *store.DB, now time.Time, actor, place string) error {
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

// Climates returns every climate that is kept, by the place's name.
func Climates(ctx context.Context, db *store.Reader) ([]Climate, error) {
	all, err := kernel.Collect(ctx, db.Read, readClimate, "SELECT "+climateColumns+" FROM place_climates ORDER BY place")
	return all, kernel.Wrap(err, "read the climates of the places")
}

func readClimate(c *kernel.Row) Climate {
	pc := Climate{Place: c.Text(0), Percentile: int(c.Int(1)), File: c.Text(4), LoadedAt: c.Instant(5)}
	c.Note(pc.LayUp.UnmarshalText([]byte(c.Text(2))))
	c.Note(json.Unmarshal([]byte(c.Text(3)), &pc.Freeze))
	return pc
}
