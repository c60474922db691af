package freeze

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Forecast is the newest forecast of a place and how the asking goes.
type Forecast struct {
	Place        string
	Source       string // the setting that it was read from
	Forecast     *watch.Forecast
	FetchedAt    time.Time // last answer, an unchanged one too
	LastModified string
	Next         time.Time // not to be asked before
	Failures     int
	Fault        string    // what went wrong last, "" for nothing
	Judged       time.Time // when the forecast that was judged last was issued
}

const forecastColumns = "place, source, forecast, fetched_at, last_modified, next_at, failures, fault, judged"

// Forecasts returns what is known of every place's forecast, by place.
func Forecasts(ctx context.Context, db *store.Reader) (map[string]Forecast, error) {
	all, err := kernel.Collect(ctx, db.Read, readForecast, "SELECT "+forecastColumns+" FROM forecasts")
	out := make(map[string]Forecast, len(all))
	for _, f := range all {
		out[f.Place] = f
	}
	return out, kernel.Wrap(err, "read the forecasts")
}

func readForecast(c *kernel.Row) Forecast {
	f := Forecast{Place: c.Text(0), Source: c.Text(1), FetchedAt: c.Instant(3), LastModified: c.Text(4), Next: c.Instant(5),
		Failures: int(c.Int(6)), Fault: c.Text(7), Judged: c.Instant(8)}
	if !c.Null(2) {
		f.Forecast = new(watch.Forecast)
		c.Note(json.Unmarshal([]byte(c.Text(2)), f.Forecast))
	}
	return f
}

// SaveForecast keeps what an asking brought; what was judged stays as it is. A nil
// forecast leaves the one that is kept, unless that was read from another
// source.
func SaveForecast(ctx context.Context, db *store.DB, f Forecast) error {
	var body any
	if f.Forecast != nil {
		b, err := json.Marshal(f.Forecast)
		if err != nil {
			return kernel.Wrap(err, "keep the forecast of %q", f.Place)
		}
		body = string(b)
	}
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO forecasts (place, source, forecast, fetched_at, last_modified, next_at, failures, fault)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (place) DO UPDATE SET
			forecast = CASE WHEN source = excluded.source THEN coalesce(excluded.forecast, forecast) ELSE excluded.forecast END,
			judged = CASE WHEN source = excluded.source THEN judged END,
			source = excluded.source, fetched_at = coalesce(excluded.fetched_at, fetched_at), last_modified = excluded.last_modified,
			next_at = excluded.next_at, failures = excluded.failures, fault = excluded.fault`,
			f.Place, f.Source, body, kernel.InstantArg(f.FetchedAt), f.LastModified, kernel.InstantArg(f.Next), f.Failures, f.Fault)
		return err
	})
	return kernel.Wrap(err, "keep the forecast of %q", f.Place)
}

// Night is what the last forecast before a night said of it.
type Night struct {
	Place  string
	Night  civil.Day
	Issued time.Time
	Lead   int
	Low    float64 // °C at the yard
	Hours  float64 // at or below the alarm's threshold
	Chance float64
	Level  watch.Level
}

// Nights returns the nights of a place from one to another, in order.
func Nights(ctx context.Context, db *store.Reader, place string, from, to civil.Day) ([]Night, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Night {
		return Night{c.Text(0), c.Day(1), c.Instant(2), int(c.Int(3)), c.Real(4), c.Real(5), c.Real(6), watch.Level(c.Int(7))}
	}, "SELECT place, night, issued, lead, low, hours, chance, level FROM freeze_nights WHERE place = ? AND night BETWEEN ? AND ? ORDER BY night",
		place, from.String(), to.String())
	return all, kernel.Wrap(err, "read the nights of %q", place)
}

// Event is a freeze that raised an alarm at a place. ID is 0 for one that is
// not kept yet.
type Event struct {
	ID    int64  `json:"id"`
	Place string `json:"place"`
	watch.Event
}

const eventColumns = "id, place, first_night, last_night, low, chance, raised_at, brings, calm, ended_at, ended"

// Events returns the freezes whose last night is not before a day, in
// order of place and time.
func Events(ctx context.Context, db *store.Reader, since civil.Day) ([]Event, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Event {
		return Event{c.Int(0), c.Text(1), watch.Event{
			Run: watch.Run{First: c.Day(2), Last: c.Day(3)}, Low: int(c.Int(4)), Chance: c.Real(5), RaisedAt: c.Instant(6),
			Brings: c.Day(7), Calm: int(c.Int(8)), EndedAt: c.Instant(9), Ended: watch.Ended(c.Text(10)),
		}}
	}, "SELECT "+eventColumns+" FROM freezes WHERE last_night >= ? ORDER BY place, first_night, id", since.String())
	return all, kernel.Wrap(err, "read the freezes")
}

// Judgement is what judging a place's forecast came to.
type Judgement struct {
	Place  string
	Issued time.Time // of the forecast that was judged; zero if none was
	Nights []Night
	Events []Event // new or changed ones
	// History are the entries of the change history, in order.
	History []Change
}

// Change is one entry of the change history.
type Change struct {
	What  string
	Event Event
}

// SaveJudgement keeps a judgement in one transaction. A freeze that relented takes
// its unsent emails back. Where something was said the place's boats are planned
// again.
func SaveJudgement(ctx context.Context, db *store.DB, now time.Time, actor string, j Judgement) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		for _, n := range j.Nights {
			_, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO freeze_nights (place, night, issued, lead, low, hours, chance, level) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
				j.Place, n.Night.String(), n.Issued.Unix(), n.Lead, n.Low, n.Hours, n.Chance, int(n.Level))
			if err != nil {
				return err
			}
		}
		for i := range j.Events {
			if err := saveEvent(ctx, tx, now, &j.Events[i]); err != nil {
				return err
			}
		}
		if !j.Issued.IsZero() {
			if _, err := tx.ExecContext(ctx, "UPDATE forecasts SET judged = ? WHERE place = ?", j.Issued.Unix(), j.Place); err != nil {
				return err
			}
		}
		for _, s := range j.History {
			if err := changedPlace(ctx, tx, now, j.Place, kernel.Entry{Actor: actor, What: s.What, After: s.Event}); err != nil {
				return err
			}
		}
		return nil
	})
	return kernel.Wrap(err, "keep what the forecast means for %q", j.Place)
}

func saveEvent(ctx context.Context, tx kernel.Querier, now time.Time, e *Event) error {
	var id any
	if e.ID != 0 {
		id = e.ID
	}
	n, err := kernel.One(ctx, tx, kernel.FirstInt, "INSERT INTO freezes ("+eventColumns+`)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET first_night = excluded.first_night, last_night = excluded.last_night,
		low = excluded.low, chance = excluded.chance, brings = excluded.brings, calm = excluded.calm, ended_at = excluded.ended_at, ended = excluded.ended
		RETURNING id`, id, e.Place, e.Run.First.String(), e.Run.Last.String(), e.Low, e.Chance, e.RaisedAt.Unix(), kernel.DayArg(e.Brings), e.Calm,
		kernel.InstantArg(e.EndedAt), string(e.Ended))
	if err != nil {
		return err
	}
	e.ID = n
	if e.Ended != watch.Open {
		_, err = store.Withdraw(ctx, tx, now, "the freeze is no longer to come", "step = 'freeze' AND subjects = ?3", Subject(n))
	}
	return err
}

// Subject names a freeze in what customers are told.
func Subject(id int64) string { return fmt.Sprintf("freeze.%d", id) }

// BookedMinutes is the work of the visits that are booked from a day to another.
func BookedMinutes(ctx context.Context, db *store.Reader, from, to civil.Day) (int, error) {
	n, err := kernel.One(ctx, db.Read, kernel.FirstInt, `SELECT coalesce(sum(v.labour), 0) FROM bookings k JOIN visits v ON v.id = k.visit_id
		WHERE k.day BETWEEN ? AND ?`, from.String(), to.String())
	return int(n), kernel.Wrap(err, "read what is booked")
}

// BoatsAt returns the boats in care at a place, by id.
func BoatsAt(ctx context.Context, db *store.Reader, place string) ([]string, error) {
	ids, err := kernel.Collect(ctx, db.Read, kernel.FirstText, "SELECT id FROM boats WHERE place = ? AND gone IS NULL ORDER BY id", place)
	return ids, kernel.Wrap(err, "list the boats at %q", place)
}

// StationLows returns what a place's station recorded, in tenths of °C by day.
func StationLows(ctx context.Context, db *store.Reader, place string, from, to civil.Day) (map[civil.Day]int, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) climate.Minimum { return climate.Minimum{Day: c.Day(0), Tenths: int(c.Int(1))} },
		"SELECT day, tenths FROM station_lows WHERE place = ? AND day BETWEEN ? AND ?", place, from.String(), to.String())
	out := make(map[civil.Day]int, len(all))
	for _, m := range all {
		out[m.Day] = m.Tenths
	}
	return out, kernel.Wrap(err, "read the recorded lows of %q", place)
}
