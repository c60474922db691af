package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// AddRecord writes down a piece of work and returns it with its id; with a season
// visit of ours in which a boat is hauled or launched, that too. The boat
// and the component must be known; hours that contradict the meter's readings
// are [ErrRefused].
func (db *DB) AddRecord(ctx context.Context, now time.Time, actor string, r schedule.Record) (schedule.Record, error) {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return addRecord(ctx, tx, now, actor, &r) })
	if err != nil {
		return schedule.Record{}, fmt.Errorf("record %q on boat %q: %w", r.Service, r.BoatID, err)
	}
	return r, nil
}

func addRecord(ctx context.Context, tx kernel.Querier, now time.Time, actor string, r *schedule.Record) error {
	if err := checkPart(ctx, tx, r.BoatID, r.ComponentID); err != nil {
		return err
	}
	if r.Day == 0 || r.Service == "" {
		return fmt.Errorf("it needs a day and a service: %w", ErrRefused)
	}
	if r.HasHours && r.ComponentID != "" {
		reading := schedule.Reading{ComponentID: r.ComponentID, Day: r.Day, Hours: r.Hours}
		if err := tables.CheckMeter(ctx, tx, r.BoatID, reading); err != nil {
			return err
		}
	}
	if err := nextRecordID(ctx, tx, r); err != nil {
		return err
	}
	if _, err := tables.PutRecord(ctx, tx, *r); err != nil {
		return err
	}
	if err := changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "record work", BoatID: r.BoatID, After: r}); err != nil {
		return err
	}
	return addSeasonEvent(ctx, tx, now, actor, r)
}

// addSeasonEvent writes down the haul-out or launch that goes with a season
// visit, once a day.
func addSeasonEvent(ctx context.Context, tx kernel.Querier, now time.Time, actor string, r *schedule.Record) error {
	b, err := tables.Boat(ctx, tx, r.BoatID)
	if err != nil {
		return err
	}
	ev, ok := b.SeasonEvent(r)
	if !ok {
		return nil
	}
	known, err := kernel.Exists(ctx, tx, "SELECT 1 FROM records WHERE boat_id = ? AND day = ? AND service = ?", ev.BoatID, ev.Day.String(), ev.Service)
	if err != nil || known {
		return err
	}
	return addRecord(ctx, tx, now, actor, &ev)
}

// nextRecordID gives the record the first free id of its key.
func nextRecordID(ctx context.Context, q kernel.Querier, r *schedule.Record) error {
	for ordinal := 0; ; ordinal++ {
		r.ID = tables.RecordID(*r, ordinal)
		taken, err := kernel.Exists(ctx, q, "SELECT 1 FROM records WHERE boat_id = ? AND id = ?", r.BoatID, r.ID)
		if err != nil || !taken {
			return err
		}
	}
}

func recordByID(ctx context.Context, q kernel.Querier, boatID, id string) (schedule.Record, error) {
	return kernel.One(ctx, q, tables.ReadRecord, "SELECT "+tables.RecordColumns+" FROM records WHERE boat_id = ? AND id = ?", boatID, id)
}

func removeRecord(ctx context.Context, tx kernel.Querier, now time.Time, actor, boatID, id string) error {
	old, err := recordByID(ctx, tx, boatID, id)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM records WHERE boat_id = ? AND id = ?", boatID, id); err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove a record", BoatID: boatID, Before: old})
}

// addReading writes down an engine's meter. A figure below an earlier one or
// above a later one is [ErrRefused] unless the reading begins a new meter.
func addReading(ctx context.Context, tx kernel.Querier, now time.Time, actor string, r schedule.Reading) error {
	home, err := kernel.One(ctx, tx, kernel.FirstText, "SELECT boat_id FROM components WHERE id = ?", r.ComponentID)
	if err != nil {
		return err
	}
	if r.Day == 0 {
		return fmt.Errorf("it needs a day: %w", ErrRefused)
	}
	if err := tables.CheckMeter(ctx, tx, home, r); err != nil {
		return err
	}
	if done, err := tables.PutReading(ctx, tx, home, r); err != nil || done == tables.Unchanged {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "read a meter", BoatID: home, After: r})
}

func removeReading(ctx context.Context, tx kernel.Querier, now time.Time, actor string, r schedule.Reading) error {
	home, err := kernel.One(ctx, tx, kernel.FirstText,
		"DELETE FROM readings WHERE component_id = ? AND day = ? AND hours = ? RETURNING boat_id", r.ComponentID, r.Day.String(), int64(r.Hours))
	if err != nil {
		return err
	}
	return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove a reading", BoatID: home, Before: r})
}

// RemoveFollowUp drops a one-off job that is no longer wanted.
func (db *DB) RemoveFollowUp(ctx context.Context, now time.Time, actor, boatID, id string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		old, err := kernel.One(ctx, tx, tables.ReadFollowUp, "DELETE FROM follow_ups WHERE boat_id = ? AND id = ? RETURNING "+tables.FollowUpColumns, boatID, id)
		if err != nil {
			return err
		}
		return changedFact(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove a follow-up", BoatID: boatID, Before: old})
	})
	return kernel.Wrap(err, "remove follow-up %q of boat %q", id, boatID)
}

// checkPart refuses an unknown boat, and a component that is not the boat's.
func checkPart(ctx context.Context, q kernel.Querier, boatID, componentID string) error {
	if _, err := tables.Boat(ctx, q, boatID); err != nil {
		return err
	}
	if componentID == "" || componentID == boatID {
		return nil
	}
	_, err := kernel.One(ctx, q, kernel.FirstInt, "SELECT 1 FROM components WHERE boat_id = ? AND id = ?", boatID, componentID)
	return kernel.Wrap(err, "component %q", componentID)
}

// changedFact finishes the change of a fact: an audit entry, and the boat is to
// be planned again.
func changedFact(ctx context.Context, tx kernel.Querier, now time.Time, e kernel.Entry) error {
	if err := kernel.Audit(ctx, tx, now, e); err != nil {
		return err
	}
	return kernel.MarkDirty(ctx, tx, e.BoatID)
}
