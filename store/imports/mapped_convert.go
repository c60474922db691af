package imports

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/internal/tables"
)

// converter turns the rows of one pass into rows of the five files. It keeps
// customers and boats in memory, because many rows may speak of one of them, and
// reads the tables a second time for the work and the meters.
type converter struct {
	t         *taking
	customers *people
	boats     *hulls
	shown     []shown             // what meters of new boats showed
	work      map[int64]bool      // pieces of work that a row of its own reports
	origins   map[string]*origins // by file
	estimates map[int]estimate    // by line of readings.csv
	blamed    []blamed
	untraced  []error // faults that belong to no row
	reported  reported
}

// estimate is a row's estimate of an engine's hours.
type estimate struct {
	at        place
	component string
}

// blamed is a row that the intake found at fault, and why.
type blamed struct {
	at     place
	reason string
}

// reported is the work and what the meters show that one row reports.
type reported struct {
	readings []meterReading
	work     []tableWork
}

type meterReading struct {
	schedule.Reading
	estimate bool // the hours are called one
}

type tableWork struct {
	workLine
	spare bool // out of a column of its service without money, which a row of work may repeat
}

func newConverter(t *taking) *converter {
	c := &converter{t: t, customers: newPeople(t), boats: newHulls(t), work: map[int64]bool{}, estimates: map[int]estimate{}, origins: map[string]*origins{}}
	for _, name := range columns.Names() {
		c.origins[name] = &origins{}
	}
	return c
}

// refusal is a reason to return a row.
type refusal struct{ reason string }

func (r refusal) Error() string { return r.reason }

func refuse(format string, args ...any) error { return refusal{fmt.Sprintf(format, args...)} }

// take takes one line. A refusal returns the row, which has changed nothing by then.
func (c *converter) take(at place, l *mapping.Line, row sourceRow) error {
	err := c.takeLine(at, l, row)
	if no, ok := errors.AsType[refusal](err); ok {
		c.t.giveBackFor(at, no.reason)
		c.t.ids[at] = row.id
		return nil
	}
	return err
}

func (c *converter) takeLine(at place, l *mapping.Line, row sourceRow) error {
	owner, err := c.customers.of(l, row)
	if err != nil {
		return err
	}
	h, err := c.boats.meant(l, row)
	if err != nil {
		return err
	}
	if h == nil && len(l.Work) > 0 {
		return refuse("reports work on no boat; name the boat")
	}
	if h != nil {
		for i, e := range l.Engines {
			if e.HasHours && e.On == 0 && l.Defaults.Engines[i].On == 0 {
				return refuse("gives engine hours without the day on which they were read")
			}
		}
		if err := c.boats.claim(at, h, owner, l.Boat.SoldOn); err != nil {
			return err
		}
	}
	// Nothing is refused from here on.
	c.t.noteAll(at, l.Notes)
	if owner != nil {
		c.customers.lay(at, owner, l)
	}
	if h == nil {
		return nil
	}
	c.boats.lay(at, h, l)
	c.report(at, l, h, row)
	c.meters(at, l, h)
	for _, w := range c.reported.work {
		if !w.spare {
			c.work[w.key()] = true
		}
	}
	return nil
}

// report fills reported with what a row reports.
func (c *converter) report(at place, l *mapping.Line, h *hull, row sourceRow) {
	c.reported.readings, c.reported.work = c.reported.readings[:0], c.reported.work[:0]
	for i := range l.Engines {
		e := &l.Engines[i]
		if !e.HasHours {
			continue
		}
		on := cmp.Or(e.On, l.Defaults.Engines[i].On)
		c.reading(schedule.Reading{ComponentID: h.engineID(i), Day: on, Hours: e.Hours}, e.Estimate)
	}
	pieces := map[string]int{} // by service for columns of one; a row of work may correct its service
	for i := range l.Work {
		column := ""
		if l.Work[i].FromColumn {
			column = l.Work[i].Service
		}
		id := tables.RowID("record", row.id, column, strconv.Itoa(pieces[column]))
		pieces[column]++
		c.takeWork(at, l.Work[i], h, workLine{source: row.source, named: row.named, Record: schedule.Record{ID: id}})
	}
}

func (c *converter) reading(r schedule.Reading, guessed bool) {
	r.ReadBy = "shop"
	if guessed {
		r.ReadBy = estimateBy
	}
	c.reported.readings = append(c.reported.readings, meterReading{r, guessed})
}

// takeWork reports one piece of work. Hours are those of the boat's one engine;
// which of two engines they belong to nobody can say, so that they stay in the
// note.
func (c *converter) takeWork(at place, w mapping.Work, h *hull, line workLine) {
	rec := w.Record
	rec.ID, rec.BoatID = line.ID, h.boat.ID
	switch engines := h.engineCount(); {
	case rec.HasHours && engines == 1:
		engine := h.engineID(0)
		if slices.Contains(c.t.known.Metered, rec.Service) {
			rec.ComponentID = engine
		} else {
			rec.HasHours = false
		}
		c.reading(schedule.Reading{ComponentID: engine, Day: rec.Day, Hours: rec.Hours}, w.Estimate)
		if c.t.contradicted[estimate{at, engine}] && w.Estimate {
			rec.HasHours = false
			rec.Note = strings.TrimSpace(fmt.Sprintf("%s (about %s h)", rec.Note, rec.Hours))
		}
	case rec.HasHours:
		rec.HasHours = false
		rec.Note = strings.TrimSpace(fmt.Sprintf("%s (meter %s h, the engine is not named)", rec.Note, rec.Hours))
	}
	if !rec.HasHours {
		rec.Hours = 0
	}
	line.Record = rec
	c.reported.work = append(c.reported.work, tableWork{line, w.FromColumn && rec.Amount == 0})
}

// key is by what a row of work repeats what a column of its service says.
func (w *tableWork) key() int64 {
	return tables.Hash63("work", w.BoatID, w.Service, w.Day.String())
}

// give hands everything to the intake, once all rows were read.
func (c *converter) give(in *intake, described []*hull) error {
	for _, name := range columns.Names() {
		in.report.begin(name)
	}
	if err := c.customers.give(in, c.origins[columns.Customers.Name]); err != nil {
		return err
	}
	for _, h := range described {
		if err := h.give(in, c.origins[columns.Boats.Name]); err != nil {
			return err
		}
	}
	if err := in.hulls(); err != nil {
		return err
	}
	for _, h := range described {
		if err := h.giveParts(in, c.origins[columns.Components.Name]); err != nil {
			return err
		}
	}
	err := c.t.eachRow(func(at place, l *mapping.Line, row sourceRow) error {
		if _, bad := c.t.returned[at]; bad {
			return nil
		}
		return c.giveReported(in, at, l, row)
	})
	if err != nil {
		return err
	}
	if err := in.freshWork(); err != nil {
		return err
	}
	return in.metersRise()
}

// giveReported hands over the work and the readings of one row.
func (c *converter) giveReported(in *intake, at place, l *mapping.Line, row sourceRow) error {
	h, err := c.boats.meant(l, row)
	if err != nil || h == nil {
		return err
	}
	c.report(at, l, h, row)
	from := []place{at}
	for _, r := range c.reported.readings {
		if e := (estimate{at, r.ComponentID}); r.estimate && c.t.contradicted[e] {
			c.t.note(at, fmt.Sprintf("about %s h contradict a reading; left out, the rest of the row is imported", r.Hours))
			continue
		} else if r.estimate {
			c.estimates[len(c.origins[columns.Readings.Name].starts)+1] = e
		}
		err := give(in, c.origins[columns.Readings.Name], from, &columns.Readings, "", columns.Reading{Reading: r.Reading, HasHours: true}, in.reading)
		if err != nil {
			return err
		}
	}
	for _, w := range c.reported.work {
		if w.spare {
			if c.work[w.key()] {
				continue
			}
			c.work[w.key()] = true
		}
		take := func(l *columns.Line, lay *columns.Layout[schedule.Record], rec schedule.Record) error {
			w.Record = rec
			return in.work(l, lay, w.workLine)
		}
		if err := give(in, c.origins[columns.History.Name], from, &columns.History, "", w.Record, take); err != nil {
			return err
		}
	}
	return nil
}

// give hands one row to the intake, checked like one that was read from a file.
func give[R any](in *intake, o *origins, from []place, f *columns.File[R], id string, row R, take func(*columns.Line, *columns.Layout[R], R) error) error {
	l := in.line(f.Name, o.add(from))
	if in.skipMerged(l, f.ID, id) {
		return nil
	}
	f.Check(l, &row)
	return take(l, nil, row)
}

// blame keeps the rows behind a fault of the intake. An estimate that a reading
// contradicts costs no more than itself.
func (c *converter) blame(file string, line int, field, what string) {
	if e, ok := c.estimates[line]; ok && file == columns.Readings.Name && field == "hours" {
		c.t.contradicted[e] = true
		return
	}
	from := c.origins[file].of(line)
	if len(from) == 0 {
		c.untraced = append(c.untraced, Fault{file, line, field, what})
	}
	for _, at := range from {
		c.blamed = append(c.blamed, blamed{at, remark(field, what)})
	}
}

// noteWork notes what the intake says about work; what it says about boats the
// rows have noted themselves.
func (c *converter) noteWork(file string, line int, field, what string) {
	if file != columns.History.Name {
		return
	}
	for _, at := range c.origins[file].of(line) {
		c.t.note(at, remark(field, what))
	}
}

// where names the first row behind a row of a file.
func (c *converter) where(file string, line int) string {
	for _, at := range c.origins[file].of(line) {
		return fmt.Sprintf("row %d of %s", at.line, c.t.report.Tables[at.table].Table)
	}
	return fmt.Sprintf("line %d", line)
}

// idOf makes an id out of what a shop calls something: no blanks or slashes.
func idOf(s string) string { return notInID.Replace(s) }

var notInID = strings.NewReplacer(" ", "-", "/", "-", "\t", "-", "\n", "-", "\u00a0", "-")
