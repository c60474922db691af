package imports

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/internal/tables"
)

// converter turns the lines of one pass into the five import files. It
// keeps customers and boats in memory, because many rows may speak of one of
// them, and spools the work.
type converter struct {
	t         *taking
	customers *people
	boats     *hulls
	spools    map[string]*spool
	done      *spool           // work out of columns of one service, which a row of work may repeat
	work      map[int64]bool   // pieces of work that a row of its own reports
	untraced  []error          // faults that belong to no row
	estimates map[int]estimate // by line of readings.csv
}

// estimate is a row's estimate of an engine's hours.
type estimate struct {
	at        place
	component string
}

// newConverter opens the spools; close removes them.
func newConverter(t *taking) (*converter, error) {
	c := &converter{t: t, spools: map[string]*spool{}, work: map[int64]bool{}, estimates: map[int]estimate{}}
	c.customers = newPeople(t)
	c.boats = newHulls(t)
	for _, kind := range append(kinds(), "done.csv") {
		s, err := newSpool(kind)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("import: %w", err), c.close())
		}
		c.spools[kind] = s
	}
	c.done = c.spools["done.csv"]
	return c, nil
}

func (c *converter) close() error {
	var all error
	for _, s := range c.spools {
		all = errors.Join(all, s.close())
	}
	return all
}

// refusal is a reason to return a row.
type refusal struct{ reason string }

func (r refusal) Error() string { return r.reason }

func refuse(format string, args ...any) error { return refusal{fmt.Sprintf(format, args...)} }

// take takes one line. A refusal returns the row; what it had changed by then
// is forgotten with the pass.
func (c *converter) take(at place, l *mapping.Line, row sourceRow) error {
	err := c.takeLine(at, l, row)
	if no, ok := errors.AsType[refusal](err); ok {
		c.t.giveBackFor(at, no.reason)
		return nil
	}
	return err
}

func (c *converter) takeLine(at place, l *mapping.Line, row sourceRow) error {
	owner, err := c.customers.of(at, l)
	if err != nil {
		return err
	}
	h, err := c.boats.of(at, l, owner)
	if err != nil {
		return err
	}
	if h == nil {
		if len(l.Work) > 0 {
			return refuse("reports work on no boat; name the boat")
		}
		return nil
	}
	if err := c.readings(at, l, h); err != nil {
		return err
	}
	pieces := map[string]int{} // by service for columns of one; a row of work may correct its service
	for i := range l.Work {
		column := ""
		if l.Work[i].FromColumn {
			column = l.Work[i].Service
		}
		id := tables.RowID("record", row.id, column, strconv.Itoa(pieces[column]))
		pieces[column]++
		if err := c.takeWork(at, l.Work[i], h, id, row); err != nil {
			return err
		}
	}
	return nil
}

// readings spools what the engines' meters show.
func (c *converter) readings(at place, l *mapping.Line, h *hull) error {
	for i := range l.Engines {
		e := &l.Engines[i]
		if !e.HasHours {
			continue
		}
		on := e.On
		if on == 0 {
			on = l.Defaults.Engines[i].On
		}
		if on == 0 {
			return refuse("gives engine hours without the day on which they were read")
		}
		if err := c.reading(at, h.engineID(i), on, e.Hours, e.Estimate); err != nil {
			return err
		}
	}
	return nil
}

func (c *converter) reading(at place, component string, on civil.Day, hours schedule.Hours, guessed bool) error {
	by, readings := "shop", c.spools["readings.csv"]
	if guessed {
		by = estimateBy
		if c.t.contradicted[estimate{at, component}] {
			c.t.note(at, fmt.Sprintf("about %s h contradict a reading; left out, the rest of the row is imported", hours))
			return nil
		}
		c.estimates[len(readings.origin)+1] = estimate{at, component}
	}
	return readings.write([]place{at}, component, on.String(), hours.String(), by)
}

// takeWork spools one piece of work. Hours are those of the boat's one engine;
// which of two engines they belong to nobody can say, so that they stay in the
// note.
func (c *converter) takeWork(at place, w mapping.Work, h *hull, id string, row sourceRow) error {
	rec := w.Record
	rec.ID = id
	rec.BoatID = h.boat.ID
	switch engines := h.engineCount(); {
	case rec.HasHours && engines == 1:
		if slices.Contains(c.t.known.Metered, rec.Service) {
			rec.ComponentID = h.engineID(0)
		} else {
			rec.HasHours = false
		}
		if err := c.reading(at, h.engineID(0), rec.Day, rec.Hours, w.Estimate); err != nil {
			return err
		}
		if c.t.contradicted[estimate{at, h.engineID(0)}] && w.Estimate {
			rec.HasHours = false
			rec.Note = strings.TrimSpace(fmt.Sprintf("%s (about %s h)", rec.Note, rec.Hours))
		}
	case rec.HasHours:
		rec.HasHours = false
		rec.Note = strings.TrimSpace(fmt.Sprintf("%s (meter %s h, the engine is not named)", rec.Note, rec.Hours))
	}
	key := tables.Hash63("work", rec.BoatID, rec.Service, rec.Day.String())
	if w.FromColumn && rec.Amount == 0 {
		return c.done.write([]place{at}, recordCells(rec, row)...)
	}
	c.work[key] = true
	return c.spools["history.csv"].write([]place{at}, recordCells(rec, row)...)
}

func recordCells(r schedule.Record, row sourceRow) []string {
	hours, amount, named := "", "", ""
	if row.named {
		named = "yes"
	}
	if r.HasHours {
		hours = r.Hours.String()
	}
	if r.Amount != 0 {
		amount = r.Amount.String()
	}
	return []string{r.BoatID, r.ComponentID, r.Day.String(), r.Service, hours, amount, r.By, r.Note, r.ID, row.source, named}
}

// files ends the reading and opens the spooled files.
func (c *converter) files() ([]File, error) {
	if err := c.mergeDone(); err != nil {
		return nil, err
	}
	if err := c.customers.spool(c.spools["customers.csv"]); err != nil {
		return nil, err
	}
	if err := c.boats.spool(c.spools["boats.csv"], c.spools["components.csv"]); err != nil {
		return nil, err
	}
	var files []File
	for _, kind := range kinds() {
		r, err := c.spools[kind].open()
		if err != nil {
			return nil, fmt.Errorf("import: %w", err)
		}
		files = append(files, File{Name: kind, R: r})
	}
	return files, nil
}

// mergeDone adds the work out of columns of one service, except what a row of
// work reports in full.
func (c *converter) mergeDone() error {
	return c.done.each(func(from []place, cells []string) error {
		key := tables.Hash63("work", cells[0], cells[3], cells[2])
		if c.work[key] {
			return nil
		}
		c.work[key] = true
		return c.spools["history.csv"].write(from, cells...)
	})
}

// blame returns the rows behind a fault of the intake. An estimate that a reading
// contradicts costs no more than itself.
func (c *converter) blame(f Fault) {
	if e, ok := c.estimates[f.Line]; ok && f.File == "readings.csv" && f.Field == "hours" {
		c.t.contradicted[e] = true
		return
	}
	from := c.spools[f.File].from(f.Line)
	if len(from) == 0 {
		c.untraced = append(c.untraced, f)
	}
	for _, at := range from {
		c.t.giveBackFor(at, remark(f.Field, f.What))
	}
}

// noteWork notes what the intake says about work; what it says about boats the
// rows have noted themselves.
func (c *converter) noteWork(f Fault) {
	if f.File != "history.csv" {
		return
	}
	for _, at := range c.spools[f.File].from(f.Line) {
		c.t.note(at, remark(f.Field, f.What))
	}
}

// idOf makes an id out of what a shop calls something: no blanks or slashes.
func idOf(s string) string {
	return strings.NewReplacer(" ", "-", "/", "-", "\t", "-", "\n", "-", "\u00a0", "-").Replace(s)
}
