package store

import (
	"context"
	"fmt"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// recordKey is what makes two lines speak of the same piece of work: its boat,
// component, day and service. Money, hours and notes may be corrected later.
func recordKey(r schedule.Record) []string {
	return []string{"record", r.BoatID, r.ComponentID, r.Day.String(), r.Service}
}

// recordID is the id of the record that is the ordinal-th, from 0, with its key.
func recordID(r schedule.Record, ordinal int) string {
	return rowID(append(recordKey(r), strconv.Itoa(ordinal))...)
}

// putRecord writes a record down and says whether that changed anything.
func putRecord(ctx context.Context, q kernel.Querier, r schedule.Record) (change, error) {
	old, err := kernel.One(ctx, q, readRecord, "SELECT "+recordColumns+" FROM records WHERE boat_id = ? AND day = ? AND id = ?",
		r.BoatID, r.Day.String(), r.ID)
	known, err := kernel.Found(err)
	if err != nil || known && old == r {
		return unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO records (`+recordColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (boat_id, day, id) DO UPDATE SET component_id = excluded.component_id, service = excluded.service,
		hours = excluded.hours, amount = excluded.amount, done_by = excluded.done_by, note = excluded.note`,
		r.BoatID, r.Day.String(), r.ID, r.ComponentID, r.Service, hoursArg(r.Hours, r.HasHours), int64(r.Amount), r.By, r.Note)
	if err != nil {
		return unchanged, fmt.Errorf("write the record %q of boat %q: %w", r.ID, r.BoatID, err)
	}
	return addedOr(known), nil
}

func hoursArg(h schedule.Hours, has bool) any {
	if !has {
		return nil
	}
	return int64(h)
}
