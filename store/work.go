package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// The kinds of measurement.
const (
	MeasureCompression = "compression" // psi by cylinder
	MeasureGearLube    = "gear-lube"   // words only
	MeasureBattery     = "battery"     // volts at rest
)

// Measurement is what was measured on a component.
type Measurement struct {
	BoatID      string
	ComponentID string
	Day         civil.Day
	Kind        string
	Figures     []float64 // in the unit of the kind
	Rule        string    // the rule by which it was judged, "" if by none
	Words       string    // what was seen
}

const measurementColumns = "boat_id, component_id, day, kind, figures, rule, words"

func readMeasurement(c *kernel.Row) Measurement {
	m := Measurement{BoatID: c.Text(0), ComponentID: c.Text(1), Day: c.Day(2), Kind: c.Text(3), Rule: c.Text(5), Words: c.Text(6)}
	if s := c.Text(4); s != "" {
		c.Note(json.Unmarshal([]byte(s), &m.Figures))
	}
	return m
}

// Measurements returns what was measured on a boat, newest first.
func (db *Reader) Measurements(ctx context.Context, boatID string) ([]Measurement, error) {
	all, err := kernel.Collect(ctx, db.Read, readMeasurement,
		"SELECT "+measurementColumns+" FROM measurements WHERE boat_id = ? ORDER BY day DESC, id DESC", boatID)
	return all, kernel.Wrap(err, "measurements of boat %q", boatID)
}

// Work is everything written down at the end of a visit. All of it is kept or
// none.
type Work struct {
	BoatID       string
	Records      []schedule.Record
	Readings     []schedule.Reading
	Measurements []Measurement
	FollowUps    []schedule.FollowUp
	Parts        []PartUse // that records took from the stock
}

// RecordWork writes down the work of a visit in one transaction, and gives the
// records and follow-ups their ids; form is a name for this form, taken once: the
// same form sent twice is [ErrRefused]. What comes from no form has none.
// It refuses an unknown boat or component, hours that contradict the meter's readings
// and a follow-up without a title or a due day.
func (db *DB) RecordWork(ctx context.Context, now time.Time, actor, form string, w Work) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if form != "" {
			if err := TakeForm(ctx, tx, now, form); err != nil {
				return err
			}
		}
		for i := range w.Readings {
			if err := addReading(ctx, tx, now, actor, w.Readings[i]); err != nil {
				return err
			}
		}
		for i := range w.Records {
			if err := addRecord(ctx, tx, now, actor, &w.Records[i]); err != nil {
				return err
			}
		}
		for i := range w.Parts {
			if err := addUse(ctx, tx, &w, &w.Parts[i]); err != nil {
				return err
			}
		}
		for i := range w.Measurements {
			if err := addMeasurement(ctx, tx, now, actor, w.Measurements[i]); err != nil {
				return err
			}
		}
		for i := range w.FollowUps {
			if err := addFollowUp(ctx, tx, now, actor, &w.FollowUps[i]); err != nil {
				return err
			}
		}
		return nil
	})
	return kernel.Wrap(err, "record the work on boat %q", w.BoatID)
}

// jobForm names, among the ticks, the forms that were taken.
const jobForm = "form"

// TakeForm notes, within a change, the one-time name of the form that asked for it. It
// returns [ErrSent] if that form was taken before.
func TakeForm(ctx context.Context, tx kernel.Querier, now time.Time, form string) error {
	r, err := tx.ExecContext(ctx, "INSERT INTO ticks (job, key, at) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", jobForm, form, now.Unix())
	n, err := kernel.Affected(r, err)
	if err == nil && n == 0 {
		err = ErrSent
	}
	return err
}

// FormTaken reports whether the form of a name was taken.
func (db *Reader) FormTaken(ctx context.Context, form string) (bool, error) {
	taken, err := kernel.Exists(ctx, db.Read, "SELECT 1 FROM ticks WHERE job = ? AND key = ?", jobForm, form)
	return taken, kernel.Wrap(err, "look for form %q", form)
}

func addMeasurement(ctx context.Context, tx kernel.Querier, now time.Time, actor string, m Measurement) error {
	if err := checkPart(ctx, tx, m.BoatID, m.ComponentID); err != nil {
		return err
	}
	figures := ""
	if len(m.Figures) > 0 {
		b, err := json.Marshal(m.Figures)
		if err != nil {
			return err
		}
		figures = string(b)
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO measurements ("+measurementColumns+") VALUES (?, ?, ?, ?, ?, ?, ?)",
		m.BoatID, m.ComponentID, m.Day.String(), m.Kind, figures, m.Rule, m.Words)
	if err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "measure", BoatID: m.BoatID, After: m})
}

func addFollowUp(ctx context.Context, tx kernel.Querier, now time.Time, actor string, f *schedule.FollowUp) error {
	if err := checkPart(ctx, tx, f.BoatID, f.ComponentID); err != nil {
		return err
	}
	if f.Due == 0 || f.Title == "" {
		return fmt.Errorf("it needs a title and a due day: %w", ErrRefused)
	}
	if f.ID == "" {
		f.ID = tables.RowID("follow-up", f.BoatID, f.ComponentID, f.Service, f.Title, f.Due.String(), f.Raised.String())
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO follow_ups (`+tables.FollowUpColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (boat_id, id) DO UPDATE SET component_id = excluded.component_id, service = excluded.service,
		title = excluded.title, due = excluded.due, raised = excluded.raised, finding = excluded.finding,
		asked = excluded.asked, alone = excluded.alone, labour = excluded.labour, price = excluded.price`,
		f.BoatID, f.ID, f.ComponentID, f.Service, f.Title, f.Due.String(), kernel.DayArg(f.Raised), f.Finding, f.Asked, f.Alone, f.Labour, int64(f.Price))
	if err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "follow up", BoatID: f.BoatID, After: *f})
}

// NoteSure writes into the history of changes that somebody said of an entry which
// was doubted that it is right.
func (db *DB) NoteSure(ctx context.Context, now time.Time, actor, boatID string, doubts []schedule.Doubt) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "said it is right", BoatID: boatID, After: doubts})
	})
	return kernel.Wrap(err, "note what was said of boat %q", boatID)
}
