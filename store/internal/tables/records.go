package tables

import (
	"context"
	"fmt"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// RecordKey is what makes two lines speak of the same piece of work: its boat,
// component, day and service. Money, hours and notes may be corrected later.
func RecordKey(r schedule.Record) []string {
	return []string{"record", r.BoatID, r.ComponentID, r.Day.String(), r.Service}
}

// RecordID is the id of the record that is the ordinal-th, from 0, with its key.
func RecordID(r schedule.Record, ordinal int) string {
	return RowID(append(RecordKey(r), strconv.Itoa(ordinal))...)
}

// PutRecord writes a record down and says whether that changed anything.
func PutRecord(ctx context.Context, q kernel.Querier, r schedule.Record) (Change, error) {
	old, err := kernel.One(ctx, q, ReadRecord, "SELECT "+RecordColumns+" FROM records WHERE boat_id = ? AND day = ? AND id = ?",
		r.BoatID, r.Day.String(), r.ID)
	known, err := kernel.Found(err)
	if err != nil || known && old == r {
		return Unchanged, err
	}
	_, err = q.ExecContext(ctx, `INSERT INTO records (`+RecordColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (boat_id, day, id) DO UPDATE SET component_id = excluded.component_id, service = excluded.service,
		hours = excluded.hours, amount = excluded.amount, done_by = excluded.done_by, note = excluded.note`,
		r.BoatID, r.Day.String(), r.ID, r.ComponentID, r.Service, HoursArg(r.Hours, r.HasHours), int64(r.Amount), r.By, r.Note)
	if err != nil {
		return Unchanged, fmt.Errorf("write the record %q of boat %q: %w", r.ID, r.BoatID, err)
	}
	return addedOr(known), nil
}

// HoursArg is a meter's hours as a statement's argument, in tenths; without any NULL.
func HoursArg(h schedule.Hours, has bool) any {
	if !has {
		return nil
	}
	return int64(h)
}
