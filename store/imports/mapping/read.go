package mapping

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/schedule/measure"
	"bellbuoy/store/imports/sheet"
)

// Options are what only the caller knows.
type Options struct {
	Today    civil.Day
	Services []string // codes of services; empty takes any
	Places   []string // names of places; empty takes any
	// CheckAddress returns the bare mail address, or why it is none.
	CheckAddress func(string) (string, error)
}

// Line is what one row of a table says.
type Line struct {
	Sheet    string
	Row      sheet.Row
	Original []string // the texts of its cells, without what a file of returned rows adds
	RowID    string   // the id under which the row was returned once, "" if it has none
	Defaults *Line    // what holds where neither this row nor anybody else says anything; of the whole table

	Customer            schedule.Customer // without an ID if the table has none
	Boat                schedule.Boat     // likewise
	Registration        string            // the boat's number with the state, "" if not given
	RegistrationExpires civil.Day
	WinterWork          string // whether the owner agrees to it: yes, no, "" if not said
	Engines             [2]Engine
	Trailer             string // what the table calls the boat's trailer, "" if it has none
	Work                []Work

	Paid []Paid // what it says was paid, whether it can be taken or not

	Faults []Remark // why the row cannot be taken; none if it can
	Notes  []Remark // what was taken but should be looked at
}

// Paid is an amount that a row gives, and its day, none if it gives none that can be
// read.
type Paid struct {
	Day    civil.Day
	Amount measure.Cents
}

// Engine is an engine as a row describes it. Its component has no ID.
type Engine struct {
	Component schedule.Component
	Hours     measure.Hours // what its meter shows
	HasHours  bool
	Estimate  bool      // the hours are called one
	On        civil.Day // the day of the reading, none if not given
}

// Known reports whether the row says anything about the engine.
func (e *Engine) Known() bool { return e.HasHours || e.Component != schedule.Component{} }

// Work is a piece of work that a row reports. Its record has no ID and boat.
type Work struct {
	schedule.Record
	Estimate   bool // the hours are called one
	FromColumn bool // stands in a column of its service, not in a row of its own
}

// Remark is something about one cell, or about the row where Column is "".
type Remark struct{ Column, What string }

// KnowsBoat reports whether the row names or describes a boat.
func (l *Line) KnowsBoat() bool {
	b := &l.Boat
	return b.ID != "" || b.HIN != "" || l.Registration != "" || b.Name != "" || b.Make != "" || b.Model != ""
}

// KnowsCustomer reports whether the row names a customer.
func (l *Line) KnowsCustomer() bool { return l.Customer.ID != "" || l.Customer.Name != "" }

// measured are hours as they stand in a cell.
type measured struct {
	hours    measure.Hours
	has      bool
	estimate bool
}

// doneCells are the cells about one service that has columns of its own.
type doneCells struct {
	service string
	days    []civil.Day
	hours   measured
	amount  measure.Cents
}

// reading is a row while it is read.
type reading struct {
	*binding
	line                *Line
	today               civil.Day
	firstName, lastName string
	engines             [2]struct {
		maker, model string
		hours        measured
	}
	work struct {
		day      civil.Day
		services []string
		hours    measured
		amount   measure.Cents
		by, note string
	}
	done []doneCells
}

// read reads one row.
func (b *binding) read(row sheet.Row) *Line {
	r := &reading{binding: b, today: b.opts.Today, line: &Line{Sheet: b.table, Row: row, Original: b.original(row), Defaults: b.defaults}}
	if b.text && len(row.Cells) < len(b.columns) {
		r.faultf(column{}, "%d cells, the header has %d; is a line broken in two?", len(row.Cells), len(b.columns))
	}
	if headerAgain(row.Cells, b.nameOf) {
		r.faultf(column{}, "the header again")
		return r.line
	}
	for i, cell := range row.Cells {
		switch {
		case b.isBlank(cell):
		case !utf8.ValidString(cell.Text):
			r.faultf(column{name: b.nameOf(i)}, "%q is not UTF-8; state the file's encoding in the mapping", cell.Text)
		case i < len(b.columns):
			if c := b.columns[i]; c.field.put != nil {
				c.field.put(r, c, cell)
			}
		default:
			r.faultf(column{name: b.nameOf(i)}, "%q stands beyond the last column of the header", cell.Text)
		}
	}
	r.finish()
	return r.line
}

// original are the texts of a row without what a file of returned rows adds and
// without the empty cells at the end.
func (b *binding) original(row sheet.Row) []string {
	var texts []string
	for i, cell := range row.Cells {
		if name := b.nameOf(i); !strings.EqualFold(name, Reason) && !strings.EqualFold(name, RowID) {
			texts = append(texts, cell.Text)
		}
	}
	for len(texts) > 0 && texts[len(texts)-1] == "" {
		texts = texts[:len(texts)-1]
	}
	return texts
}

// headerAgain reports whether most cells of a row repeat the names of their
// columns, as page breaks do.
func headerAgain(cells []sheet.Cell, name func(int) string) bool {
	filled, same := 0, 0
	for i, c := range cells {
		text, header := strings.TrimSpace(c.Text), name(i)
		if text == "" {
			continue
		}
		filled++
		if header != "" && text[0] == header[0] && strings.Join(strings.Fields(text), " ") == header {
			same++
		}
	}
	return same > 1 && 2*same > filled
}

func (r *reading) fault(c column, err error) {
	if err != nil {
		r.line.Faults = append(r.line.Faults, Remark{c.name, err.Error()})
	}
}

func (r *reading) faultf(c column, format string, args ...any) {
	r.fault(c, fmt.Errorf(format, args...))
}

func (r *reading) notef(c column, format string, args ...any) {
	r.line.Notes = append(r.line.Notes, Remark{c.name, fmt.Sprintf(format, args...)})
}

// finish puts together what several cells say.
func (r *reading) finish() {
	l := r.line
	if l.Customer.Name == "" {
		l.Customer.Name = strings.TrimSpace(r.firstName + " " + r.lastName)
	}
	for i := range l.Engines {
		e, cells := &l.Engines[i], r.engines[i]
		e.Hours, e.HasHours, e.Estimate = cells.hours.hours, cells.hours.has, cells.hours.estimate
		if e.Component.Attr.Family == "" {
			e.Component.Attr.Family = strings.TrimSpace(cells.maker + " " + cells.model)
		}
	}
	r.finishPaid()
	r.finishWork()
	r.finishDone()
	if len(l.Faults) == 0 && !l.KnowsBoat() && !l.KnowsCustomer() {
		r.faultf(column{}, "names neither a boat nor a customer")
	}
}

// finishPaid gathers the amounts of all cells.
func (r *reading) finishPaid() {
	if r.work.amount != 0 {
		r.line.Paid = append(r.line.Paid, Paid{r.work.day, r.work.amount})
	}
	for _, d := range r.done {
		if d.amount == 0 {
			continue
		}
		last := civil.Day(0)
		if len(d.days) > 0 {
			last = slices.Max(d.days)
		}
		r.line.Paid = append(r.line.Paid, Paid{last, d.amount})
	}
}

// finishWork makes records of a row that reports one job. Several services in
// one cell are one job each; the money stands with the first.
func (r *reading) finishWork() {
	w := &r.work
	switch {
	case len(r.line.Faults) > 0 || w.day == 0 && len(w.services) == 0 && w.amount == 0 && w.note == "" && !w.hours.has:
		return
	case w.day == 0:
		r.faultf(r.columnOf("work.day"), "reports work without its day")
	case len(w.services) == 0:
		r.faultf(r.columnOf("work.service"), "reports work without a service")
	}
	by := w.by
	if by == "" {
		by = r.defaultBy
	}
	for i, service := range w.services {
		rec := schedule.Record{Day: w.day, Service: service, Hours: w.hours.hours, HasHours: w.hours.has, By: by}
		if i == 0 {
			rec.Amount, rec.Note = w.amount, w.note
		}
		r.line.Work = append(r.line.Work, Work{Record: rec, Estimate: w.hours.estimate})
	}
}

// finishDone makes records of the columns that hold one service each. Where a
// cell holds several days, hours and money belong to the latest.
func (r *reading) finishDone() {
	for _, d := range r.done {
		if len(d.days) == 0 {
			if d.hours.has || d.amount != 0 {
				r.faultf(r.columnOf(doneField+d.service), "hours or money for %s, but no day", d.service)
			}
			continue
		}
		slices.Sort(d.days)
		for i, day := range d.days {
			rec := schedule.Record{Day: day, Service: d.service, By: r.defaultBy}
			last := i == len(d.days)-1
			if last {
				rec.Hours, rec.HasHours, rec.Amount = d.hours.hours, d.hours.has, d.amount
			}
			r.line.Work = append(r.line.Work, Work{Record: rec, Estimate: last && d.hours.estimate, FromColumn: true})
		}
	}
}

func (r *reading) doneOf(service string) *doneCells {
	i := slices.IndexFunc(r.done, func(d doneCells) bool { return d.service == service })
	if i < 0 {
		i = len(r.done)
		r.done = append(r.done, doneCells{service: service})
	}
	return &r.done[i]
}

// doneOn reads the days in a cell, of which there may be several.
func (r *reading) doneOn(c column, cell sheet.Cell, service string) {
	d := r.doneOf(service)
	for _, one := range strings.FieldsFunc(cell.Text, func(r rune) bool { return r == ';' || r == '\n' || r == '&' }) {
		if one = strings.TrimSpace(one); one == "" {
			continue
		}
		day, err := ParseDay(sheet.Cell{Text: one, Kind: cell.Kind}, c.order, r.today)
		switch {
		case err != nil:
			r.fault(c, err)
		case day > r.today+1:
			r.faultf(c, "%s is still to come; want a day that has been", day)
		default:
			d.days = append(d.days, day)
		}
	}
}

// word translates a word of the shop into one of a list; an empty list takes
// any.
func (r *reading) word(c column, field, s string, list []string) string {
	meaning, known := r.words[field][fold(s)]
	switch {
	case known && meaning == LeaveOut:
		r.faultf(c, "left out, as the mapping says of %q", s)
		return ""
	case known:
		s = meaning
	}
	if len(list) == 0 {
		return s
	}
	for _, w := range list {
		if strings.EqualFold(w, s) {
			return w
		}
	}
	r.faultf(c, `unknown word %q; say what it means in the mapping's words for %s`, s, field)
	return ""
}

// services reads a cell that names one or several services: a word of the
// mapping, or one without its numbers and sizes; else what it contains; else each
// of its pieces is a word.
func (r *reading) services(c column, cell sheet.Cell) {
	whole := strings.TrimSpace(cell.Text)
	meaning, known := r.words["work.service"][fold(whole)]
	if !known && slices.Contains(r.opts.Services, whole) {
		meaning, known = whole, true
	}
	if !known {
		meaning, known = r.words["work.service"]["\n"+phraseOf(whole)]
	}
	if known {
		r.serviceCodes(c, whole, meaning)
		return
	}
	if found := phrasesIn(phraseOf(whole), r.contains); len(found) > 0 {
		codes, _, out := meanings(found)
		if len(codes) > 1 {
			codes = slices.DeleteFunc(codes, func(s string) bool { return s == moneyOnly })
		}
		if out {
			codes = []string{LeaveOut}
		}
		r.serviceCodes(c, whole, strings.Join(codes, ","))
		return
	}
	if r.rest != "" {
		r.serviceCodes(c, whole, r.rest)
		return
	}
	for _, p := range strings.FieldsFunc(whole, func(r rune) bool { return strings.ContainsRune(",;/&+\n", r) }) {
		p = strings.TrimSpace(p)
		if meaning, known := r.words["work.service"][fold(p)]; known {
			r.serviceCodes(c, p, meaning)
		} else if p != "" {
			r.serviceCodes(c, p, p)
		}
	}
}

// moneyOnly is the service of work that nothing is planned by.
const moneyOnly = "other"

// serviceCodes adds what a text means: services with commas between.
func (r *reading) serviceCodes(c column, text, meaning string) {
	if strings.TrimSpace(meaning) == LeaveOut {
		r.faultf(c, "left out, as the mapping says of %q", text)
		return
	}
	codes := []string{meaning} // any text is a service where none are listed
	if len(r.opts.Services) > 0 && !slices.ContainsFunc(r.opts.Services, func(s string) bool { return strings.EqualFold(s, meaning) }) {
		codes = splitCodes(meaning)
	}
	for _, code := range codes {
		i := slices.IndexFunc(r.opts.Services, func(s string) bool { return strings.EqualFold(s, code) })
		switch {
		case i >= 0:
			code = r.opts.Services[i]
		case len(r.opts.Services) > 0:
			r.faultf(c, `unknown word %q; say what it means in the mapping's words for work.service`, text)
			return
		}
		if !slices.Contains(r.work.services, code) {
			r.work.services = append(r.work.services, code)
		}
	}
}

func (r *reading) clean(_ column, cell sheet.Cell) string { return plainText(cell.Text) }

// email keeps the first address of a cell.
func (r *reading) email(c column, cell sheet.Cell) {
	all := strings.FieldsFunc(plainText(cell.Text), func(r rune) bool { return strings.ContainsRune(",; \n<>", r) })
	if len(all) == 0 {
		return
	}
	if i := slices.IndexFunc(all, func(s string) bool { return strings.Contains(s, "@") }); i > 0 {
		all = all[i:] // "Paz <paz@example.org>"
	}
	address := strings.TrimPrefix(all[0], "mailto:")
	if r.opts.CheckAddress != nil {
		var err error
		if address, err = r.opts.CheckAddress(address); err != nil {
			r.fault(c, err)
			return
		}
	}
	r.line.Customer.Email = address
	if len(all) > 1 {
		r.notef(c, "several addresses; %s is kept, not %s", address, strings.Join(all[1:], ", "))
	}
}

func (r *reading) phone(c column, cell sheet.Cell) {
	number, ok := Phone(plainText(cell.Text), r.region)
	if !ok {
		r.notef(c, "%q is not a complete phone number; kept as written", number)
	}
	r.line.Customer.Phone = number
}

func (r *reading) hin(c column, cell sheet.Cell) {
	r.line.Boat.HIN = hin.Written(plainText(cell.Text))
	for _, odd := range hin.Remarks(r.line.Boat.HIN) {
		r.notef(c, "%s; imported as written, check the hull", odd)
	}
}

// year reads a model year of four digits, or of two after an apostrophe.
func (r *reading) year(c column, cell sheet.Cell) {
	s := plainBlanks(cell.Text)
	if two, ok := strings.CutPrefix(s, "'"); ok && len(two) == 2 && isDigits(two) {
		r.line.Boat.Year = nearYear(atoi(two), r.today.Year())
		return
	}
	if y := atoi(s); len(s) == 4 && isDigits(s) && y >= 1850 && y <= r.today.Year()+2 {
		r.line.Boat.Year = y
		return
	}
	r.faultf(c, "%q: want a model year of four digits", s)
}

func (r *reading) length(c column, cell sheet.Cell) {
	v, err := Feet(cell.Text)
	r.fault(c, err)
	r.line.Boat.LengthFt = v
}
