package imports

import (
	"fmt"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// work takes in a piece of work. A line names a record by its record_id or, without one,
// by the file's name, what the line says and how many lines alike stand before
// it. It replaces that record and no other:
//
//   - a line whose record is on file changes it, wherever it stands by now;
//   - another line without a record_id that says exactly what a record says which
//     no line of this run names (one that somebody typed in, or that came with
//     another file) is that record;
//   - every other line is new. Where it stands in a file that still holds most of
//     the records that it once brought, and is the only new line of a boat,
//     component, day and service of which the only one is missing, that one was
//     corrected and goes.
//
// Lines that are not known by their id wait until all are read, so that none
// takes the record that a later line names. In a shop without any record all are new.
func (in *intake) work(l *columns.Line, lay *columns.Layout[schedule.Record], w workLine) error {
	rec := w.Record
	if err := in.checkPlace(l, rec.BoatID, rec.ComponentID); err != nil {
		return err
	}
	if l.Bad {
		return nil
	}
	if rec.HasHours && rec.ComponentID == "" {
		l.Note("hours", "meter hours without a component; they count for no engine")
	}
	if w.ID == "" {
		alike := workKey(rec)
		before, _, err := in.seen(l.No, alike...)
		if err != nil {
			return err
		}
		w.ID = tables.RowID(append(alike, w.source, strconv.Itoa(before))...)
	}
	if first, err := in.claim(w.ID); err != nil || !first {
		if err == nil {
			l.Fault("record_id", "%q is on an earlier line too; keep one, or take the id off this line if it is work of its own", w.ID)
		}
		return err
	}
	return in.takeWork(l, lay, w)
}

// workKey is what two lines that are alike have in common: all but the record_id.
func workKey(r schedule.Record) []string {
	return append(tables.RecordKey(r), fmt.Sprint(tables.HoursArg(r.Hours, r.HasHours)), r.Amount.String(), r.By, r.Note)
}

// workLine is a record as a line gives it.
type workLine struct {
	schedule.Record
	source string // the file that it came with, without a folder
	named  bool   // by an id in the file itself
}

// historyLine takes a line of history.csv.
func (in *intake) historyLine(l *columns.Line, lay *columns.Layout[schedule.Record], rec schedule.Record) error {
	return in.work(l, lay, workLine{Record: rec, source: l.File, named: rec.ID != ""})
}

// claim notes that a line of this run names a record; first is false if an
// earlier one did.
func (in *intake) claim(id string) (first bool, err error) {
	n, err := kernel.Affected(in.tx.ExecContext(in.ctx, "INSERT INTO temp.claimed VALUES (?) ON CONFLICT DO NOTHING", id))
	return n == 1, err
}

// takeWork changes the record that a line names, or keeps the line for later.
func (in *intake) takeWork(l *columns.Line, lay *columns.Layout[schedule.Record], w workLine) error {
	if in.first {
		return in.addWork(w)
	}
	old, err := kernel.One(in.ctx, in.tx, tables.ReadRecord, "SELECT "+tables.RecordColumns+" FROM records WHERE id = ? ORDER BY boat_id <> ? LIMIT 1", w.ID, w.BoatID)
	known, err := kernel.Found(err)
	if err != nil {
		return err
	}
	if !known {
		_, err := in.tx.ExecContext(in.ctx, "INSERT INTO temp.fresh_work VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", l.No, w.BoatID, w.Day.String(),
			w.ID, w.ComponentID, w.Service, tables.HoursArg(w.Hours, w.HasHours), int64(w.Amount), w.By, w.Note, w.source, w.named)
		return err
	}
	if lay.Lacks() {
		lay.Keep(&w.Record, &old)
	}
	if old == w.Record {
		in.report.count(columns.History.Name, tables.Unchanged)
		return nil
	}
	if old.BoatID != w.BoatID || old.Day != w.Day {
		_, err := in.tx.ExecContext(in.ctx, "UPDATE records SET boat_id = ?, day = ? WHERE boat_id = ? AND day = ? AND id = ?",
			w.BoatID, w.Day.String(), old.BoatID, old.Day.String(), w.ID)
		if err != nil {
			return fmt.Errorf("move the record %q of boat %q: %w", w.ID, old.BoatID, err)
		}
		if err := in.touched(old.BoatID); err != nil {
			return err
		}
	}
	if _, err := tables.PutRecord(in.ctx, in.tx, w.Record); err != nil {
		return err
	}
	in.report.count(columns.History.Name, tables.Changed)
	return in.touched(w.BoatID)
}

// freshWork goes through the lines that no record was known by.
func (in *intake) freshWork() error {
	if in.first {
		return nil
	}
	// Without a record that no line names there is nothing to compare with.
	spare, err := kernel.One(in.ctx, in.tx, kernel.FirstBool, "SELECT EXISTS (SELECT 1 FROM records WHERE id NOT IN (SELECT id FROM temp.claimed))")
	if err != nil {
		return err
	}
	err = in.eachFresh(func(line int, w workLine) error {
		same := ""
		if spare && !w.named {
			var err error
			same, err = kernel.One(in.ctx, in.tx, kernel.FirstText, `SELECT id FROM records WHERE boat_id = ? AND day = ?
				AND component_id = ? AND service = ? AND hours IS ? AND amount = ? AND done_by = ? AND note = ?
				AND id NOT IN (SELECT id FROM temp.claimed) ORDER BY source <> ?, id LIMIT 1`,
				w.BoatID, w.Day.String(), w.ComponentID, w.Service, tables.HoursArg(w.Hours, w.HasHours), int64(w.Amount), w.By, w.Note, w.source)
			if _, err = kernel.Found(err); err != nil {
				return err
			}
		}
		leftOut := same == "" && len(in.takenBack) > 0 && in.takenBack.leaves(workKey(w.Record))
		if same != "" || leftOut {
			if _, err := in.tx.ExecContext(in.ctx, "DELETE FROM temp.fresh_work WHERE line = ?", line); err != nil {
				return err
			}
		}
		if leftOut {
			in.report.note(columns.History.Name, line, "", fmt.Sprintf("left out: this work on boat %q on %s, service %q, was taken back by hand; if it was done after all, record it on the boat's page or with \"bellbuoy record\"", w.BoatID, w.Day, w.Service))
			return nil
		}
		if same != "" {
			in.report.count(columns.History.Name, tables.Unchanged)
			_, err := in.claim(same)
			return err
		}
		return in.addWork(w)
	})
	if err != nil || !spare {
		return err
	}
	return in.correctedWork()
}

// addWork writes a new record.
func (in *intake) addWork(w workLine) error {
	_, err := in.tx.ExecContext(in.ctx, "INSERT INTO records ("+tables.RecordColumns+", source) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		w.BoatID, w.Day.String(), w.ID, w.ComponentID, w.Service, tables.HoursArg(w.Hours, w.HasHours), int64(w.Amount), w.By, w.Note, w.source)
	if err != nil {
		return fmt.Errorf("write the record %q of boat %q: %w", w.ID, w.BoatID, err)
	}
	in.report.count(columns.History.Name, tables.Added)
	return in.touched(w.BoatID)
}

// correctedWork looks for records that a fresh line corrects. It only ever asks
// about lines that were new, of which a file taken in again has few.
func (in *intake) correctedWork() error {
	again := map[string]bool{} // by source: the file holds most of what it brought
	return in.eachFresh(func(line int, w workLine) error {
		const unnamed = ` FROM records WHERE boat_id = ? AND day = ? AND component_id = ? AND service = ? AND id NOT IN (SELECT id FROM temp.claimed)`
		key := []any{w.BoatID, w.Day.String(), w.ComponentID, w.Service}
		left, err := kernel.Collect(in.ctx, in.tx, func(c *kernel.Row) [2]string { return [2]string{c.Text(0), c.Text(1)} }, "SELECT id, source"+unnamed, key...)
		if err != nil || len(left) == 0 || w.named {
			return err
		}
		fresh, err := kernel.One(in.ctx, in.tx, kernel.FirstInt,
			"SELECT count(*) FROM temp.fresh_work WHERE boat_id = ? AND day = ? AND component_id = ? AND service = ?", key...)
		if err != nil {
			return err
		}
		if _, asked := again[w.source]; !asked {
			if again[w.source], err = in.holdsMost(w.source); err != nil {
				return err
			}
		}
		if len(left) > 1 || fresh > 1 || left[0][1] != w.source || !again[w.source] {
			in.report.note(columns.History.Name, line, "", fmt.Sprintf("taken as new work, beside other work on boat %q on %s, service %q; if it corrects that, name it by the record_id that \"bellbuoy export\" writes into history.csv", w.BoatID, w.Day, w.Service))
			return nil
		}
		if _, err := in.tx.ExecContext(in.ctx, "DELETE FROM records WHERE boat_id = ? AND day = ? AND id = ?", w.BoatID, w.Day.String(), left[0][0]); err != nil {
			return err
		}
		f := in.report.file(columns.History.Name)
		f.New, f.Changed = f.New-1, f.Changed+1
		return nil
	})
}

// holdsMost reports whether the lines of this run name at least half of the
// records that a file brought before.
func (in *intake) holdsMost(source string) (bool, error) {
	return kernel.One(in.ctx, in.tx, func(c *kernel.Row) bool { return c.Int(0) > 0 && c.Int(0) >= c.Int(1) }, `SELECT
		count(*) FILTER (WHERE id IN (SELECT id FROM temp.claimed) AND id NOT IN (SELECT id FROM temp.fresh_work)),
		count(*) FILTER (WHERE id NOT IN (SELECT id FROM temp.claimed)) FROM records WHERE source = ?`, source)
}

// eachFresh calls fn for each line that waits, in order. fn may take the line out.
func (in *intake) eachFresh(fn func(line int, w workLine) error) error {
	for last, more := 0, true; more; {
		page, err := kernel.Collect(in.ctx, in.tx, func(c *kernel.Row) numberedWork {
			n := numberedWork{line: int(c.Int(0)), workLine: workLine{source: c.Text(1), named: c.Bool(2)}}
			c.Skip(3)
			n.Record = tables.ReadRecord(c)
			return n
		}, "SELECT line, source, named, "+tables.RecordColumns+" FROM temp.fresh_work WHERE line > ? ORDER BY line LIMIT 1000", last)
		if err != nil {
			return err
		}
		for _, n := range page {
			if err := fn(n.line, n.workLine); err != nil {
				return err
			}
			last = n.line
		}
		more = len(page) > 0
	}
	return nil
}

type numberedWork struct {
	line int
	workLine
}

// checkPlace checks that the boat is known and has the component.
func (in *intake) checkPlace(l *columns.Line, boatID, componentID string) error {
	if in.spoilt["boat "+boatID] || in.spoilt["component "+componentID] {
		l.Bad = true
		return nil
	}
	ok, err := in.hasBoat(boatID)
	if err != nil {
		return err
	}
	if !ok {
		if boatID != "" {
			l.Fault("boat_id", "no boat %q in boats.csv or the store; add the boat or correct the id", boatID)
		}
		return nil
	}
	if componentID == "" {
		return nil
	}
	home, err := in.boatOfComponent(componentID)
	switch {
	case err != nil:
		return err
	case home == "":
		l.Fault("component_id", "no component %q in components.csv or the store; add it, correct the id, or leave it empty for the whole boat", componentID)
	case home != boatID:
		l.Fault("component_id", "%q belongs to boat %q; correct one of the two", componentID, home)
	}
	return nil
}
