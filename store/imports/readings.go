package imports

import (
	"fmt"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

func (in *intake) reading(l *columns.Line, lay *columns.Layout[columns.Reading], row columns.Reading) error {
	rd := row.Reading
	home, err := in.meterHome(l, rd.ComponentID)
	if err != nil || l.Bad {
		return err
	}
	before, first, err := in.seen(l.No, readingKey(rd)...)
	if err != nil {
		return err
	}
	if before > 0 {
		l.Note("", "the same reading as on line %d; counted once", first)
	}
	if in.takenBack[entryKey(readingKey(rd))] > 0 {
		onFile, err := kernel.Exists(in.ctx, in.tx, "SELECT 1 FROM readings WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?",
			home, rd.ComponentID, rd.Day.String(), int64(rd.Hours))
		if err != nil {
			return err
		}
		if !onFile {
			l.Note("", "left out: this reading of %s h was taken back by hand; if it is right after all, enter it on the boat's page", rd.Hours)
			return nil
		}
	}
	if lay.Lacks() {
		was, err := kernel.One(in.ctx, in.tx, tables.ReadReading, "SELECT "+tables.ReadingColumns+" FROM readings WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = ?",
			home, rd.ComponentID, rd.Day.String(), int64(rd.Hours))
		known, err := kernel.Found(err)
		if err != nil {
			return err
		}
		if known {
			lay.Keep(&row, &columns.Reading{Reading: was, HasHours: true})
			rd = row.Reading
		}
	}
	done, err := tables.PutReading(in.ctx, in.tx, home, rd)
	if err != nil {
		return err
	}
	in.report.count(l.File, done)
	if !in.lately.metered.has(rd.ComponentID) {
		if _, err := in.tx.ExecContext(in.ctx, "INSERT INTO temp.metered VALUES (?) ON CONFLICT DO NOTHING", rd.ComponentID); err != nil {
			return err
		}
		in.lately.metered.add(rd.ComponentID, "")
	}
	if done == tables.Unchanged {
		return nil
	}
	return in.touched(home)
}

// meterHome returns the boat of the component that was read.
func (in *intake) meterHome(l *columns.Line, id string) (string, error) {
	if id == "" || in.spoilt["component "+id] {
		l.Bad = true
		return "", nil
	}
	home, err := in.boatOfComponent(id)
	switch {
	case err != nil:
		return "", err
	case home == "":
		l.Fault("component_id", "no component %q in components.csv or the store; add it or correct the id", id)
	case home == id:
		l.Fault("component_id", "%q is a boat; want the engine that was read", id)
	}
	return home, nil
}

// metersRise looks through every meter that the file touched, in order of day:
// a meter that goes backwards was misread or replaced.
func (in *intake) metersRise() error {
	all, err := kernel.Collect(in.ctx, in.tx, func(c *kernel.Row) [2]schedule.Reading {
		return [2]schedule.Reading{
			{ComponentID: c.Text(0), Day: c.Day(1), Hours: c.Hours(2), ReadBy: c.Text(5)},
			{ComponentID: c.Text(0), Day: c.Day(3), Hours: c.Hours(4), ReadBy: c.Text(6)},
		}
	}, fallingMeters)
	if err != nil {
		return err
	}
	for _, pair := range all {
		blamed := []schedule.Reading{pair[1], pair[0]} // the later one, but rather an estimate
		if pair[0].ReadBy == estimateBy && pair[1].ReadBy != estimateBy {
			slices.Reverse(blamed)
		}
		line, err := in.lineOf(blamed[0])
		if err == nil && line == 0 {
			line, err = in.lineOf(blamed[1])
		}
		if err != nil {
			return err
		}
		in.report.fault("readings.csv", line, "hours", meterFalls(pair[0], pair[1]))
	}
	return nil
}

// lineOf returns the line on which a reading stood, 0 if not in this run.
func (in *intake) lineOf(rd schedule.Reading) (int, error) {
	n, err := kernel.One(in.ctx, in.tx, kernel.FirstInt,
		"SELECT line FROM temp.seen WHERE h = ?", tables.Hash63(readingKey(rd)...))
	_, err = kernel.Found(err)
	return int(n), err
}

// estimateBy is who read what a shop's table calls an estimate: where it contradicts
// a reading, the reading counts.
const estimateBy = "estimate in the shop's file"

// fallingMeters pairs each reading of a metered component that is lower than
// the one before it on the same meter with that one.
const fallingMeters = `SELECT component_id, before_day, before_hours, day, hours, before_by, read_by FROM (
	SELECT component_id, day, hours, new_meter, read_by, lag(read_by) OVER meter AS before_by,
		lag(day) OVER meter AS before_day, lag(hours) OVER meter AS before_hours
	FROM readings WHERE component_id IN (SELECT component_id FROM temp.metered)
	WINDOW meter AS (PARTITION BY boat_id, component_id ORDER BY day, new_meter, hours)
) WHERE new_meter = 0 AND hours < before_hours ORDER BY component_id, day`

// meterFalls says what two readings of one meter contradict each other in.
func meterFalls(before, after schedule.Reading) string {
	return fmt.Sprintf("the meter of %q showed %s h on %s and %s h on %s; correct one of the two, or write yes in a column new_meter", after.ComponentID, before.Hours, before.Day, after.Hours, after.Day)
}

// readingKey is what makes two lines speak of the same reading.
func readingKey(r schedule.Reading) []string {
	return []string{"reading", r.ComponentID, r.Day.String(), r.Hours.String()}
}
