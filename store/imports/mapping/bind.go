package mapping

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/sheet"
)

// Reason is what the header of a file of returned rows calls its last column;
// a column of that name is passed over when the rows come back.
const Reason = "reason it was returned"

// RowID is what the header calls the column with the id of a returned row. When
// the row comes back corrected it is known by it.
const RowID = "id of the returned row"

// column is one column of a table that is read.
type column struct {
	name  string
	field field  // without put if the column is left out
	order string // of dates
	style string // of numbers
}

// binding is a table's block of the mapping, bound to the header that the
// table really has.
type binding struct {
	table     string
	text      bool // of a text file, whose rows are all as long as the header
	sheet     *Sheet
	opts      Options
	region    string
	blank     []string
	columns   []column
	words     map[string]map[string]string // by field and folded word; of services by phrase too, after a line end
	contains  []phrase                     // what texts that name services contain, the longest first
	rest      string                       // what the texts mean that contain none of these; "" if nothing
	defaults  *Line
	defaultBy string
}

// nameOf names a column for a remark.
func (b *binding) nameOf(i int) string {
	if i < len(b.columns) {
		return b.columns[i].name
	}
	return columnName("", i)
}

func (b *binding) columnOf(field string) column {
	i := slices.IndexFunc(b.columns, func(c column) bool { return c.field.name == field })
	if i < 0 {
		return column{}
	}
	return b.columns[i]
}

func (b *binding) isBlank(c sheet.Cell) bool {
	s := strings.TrimSpace(c.Text)
	return s == "" || slices.ContainsFunc(b.blank, func(w string) bool { return strings.EqualFold(w, s) })
}

// columnName names a column without a header as spreadsheets do.
func columnName(header string, i int) string {
	if header != "" {
		return header
	}
	letters := ""
	for i++; i > 0; i = (i - 1) / 26 {
		letters = string(rune('A'+(i-1)%26)) + letters
	}
	return "column " + letters
}

// columnNames makes the names of a header's columns unlike each other.
func columnNames(header []sheet.Cell) []string {
	names := make([]string, len(header))
	times := map[string]int{}
	for i, c := range header {
		name := strings.Join(strings.Fields(c.Text), " ")
		times[name]++
		if n := times[name]; n > 1 && name != "" {
			name = fmt.Sprintf("%s (%d)", name, n)
		}
		names[i] = columnName(name, i)
	}
	return names
}

// bind matches a block with a header. A column that the block does not name,
// or one that it names and the table lacks, is an error: a renamed column must
// not vanish in silence.
func (m *Mapping) bind(table string, s *Sheet, header []sheet.Cell, o Options) (*binding, error) {
	b := &binding{table: table, sheet: s, opts: o, region: m.PhoneRegion, blank: m.Blank, words: map[string]map[string]string{}}
	for field, words := range s.Words {
		b.words[field] = map[string]string{}
		for w, meaning := range words {
			b.words[field][fold(w)] = meaning
		}
	}
	if err := b.bindPhrases(); err != nil {
		return nil, err
	}
	known := fields()
	var all []error
	names := columnNames(header)
	for i, name := range names {
		c := column{name: name, order: s.Dates[name], style: s.Numbers[name]}
		what, listed := s.Columns[name]
		switch {
		case strings.EqualFold(name, RowID):
			c.field.put = func(r *reading, _ column, cell sheet.Cell) { r.line.RowID = strings.TrimSpace(cell.Text) }
		case strings.EqualFold(name, Reason), !listed && header[i].Text == "":
		case !listed:
			all = append(all, fmt.Errorf("the column %q is not in the mapping; say what it holds, or \"\" to leave it out", name))
		case what != "":
			c.field, _ = fieldOf(known, what)
			all = append(all, b.checkColumn(c))
		}
		b.columns = append(b.columns, c)
	}
	for _, name := range sorted(s.Columns) {
		if s.Columns[name] != "" && !slices.Contains(names, name) {
			all = append(all, fmt.Errorf("there is no column %q; the table has %s", name, strings.Join(names, ", ")))
		}
	}
	if err := errors.Join(all...); err != nil {
		return nil, err
	}
	return b, b.bindDefaults()
}

// bindPhrases makes texts that name services findable without their numbers, and by
// what they contain. Two words that differ in numbers only stand for themselves if
// they mean different things.
func (b *binding) bindPhrases() error {
	words, twice := b.words["work.service"], map[string]bool{}
	for _, w := range sorted(b.sheet.Words["work.service"]) {
		key, meaning := "\n"+phraseOf(w), b.sheet.Words["work.service"][w]
		if before, known := words[key]; known && before != meaning || key == "\n" {
			twice[key] = true
		}
		words[key] = meaning
	}
	for key := range twice {
		delete(words, key)
	}
	var all []error
	for _, w := range sorted(b.sheet.Contains) {
		for _, code := range splitCodes(b.sheet.Contains[w]) {
			if code != LeaveOut && len(b.opts.Services) > 0 && !slices.Contains(b.opts.Services, code) {
				all = append(all, fmt.Errorf("contains %q: no rule knows the service %q", w, code))
			}
		}
		if w == Rest {
			b.rest = b.sheet.Contains[w]
		} else if p := phraseOf(w); p != "" {
			b.contains = append(b.contains, phrase{p, b.sheet.Contains[w]})
		}
	}
	byLength(b.contains)
	return errors.Join(all...)
}

// checkColumn asks for what a column's kind needs, and for a service that there
// is.
func (b *binding) checkColumn(c column) error {
	if rest, ok := strings.CutPrefix(c.field.name, doneField); ok {
		service, _, _ := strings.Cut(rest, ".")
		if len(b.opts.Services) > 0 && !slices.Contains(b.opts.Services, service) {
			return fmt.Errorf("column %q: no rule knows the service %q", c.name, service)
		}
	}
	switch {
	case c.field.kind == dayField && c.order == "":
		return fmt.Errorf("column %q: the mapping does not say in which order its dates are written; add it under dates", c.name)
	case (c.field.kind == moneyField || c.field.kind == hoursField) && c.style == "":
		return fmt.Errorf("column %q: the mapping does not say how its numbers are written; add it under numbers", c.name)
	}
	return nil
}

// bindDefaults reads what holds where the table says nothing.
func (b *binding) bindDefaults() error {
	b.defaultBy = schedule.ByShop
	r := &reading{binding: b, today: b.opts.Today, line: &Line{Sheet: b.table}}
	known := fields()
	for _, name := range sorted(b.sheet.Defaults) {
		f, ok := fieldOf(known, name)
		if !ok || b.sheet.Defaults[name] == "" {
			continue
		}
		f.put(r, column{name: name, order: "ymd", style: plainStyle}, sheet.Cell{Text: b.sheet.Defaults[name]})
	}
	for _, bad := range r.line.Faults {
		return fmt.Errorf("defaults: %s: %s", bad.Column, bad.What)
	}
	if r.work.by != "" {
		b.defaultBy = r.work.by
	}
	b.defaults = r.line
	return nil
}

// Read reads every table of a book that the mapping does not skip and calls fn
// with each row behind the header, in order. A table that the mapping does not
// know, or one whose header does not fit it, is an error before any row is
// read. An error of fn ends the reading and is returned as it is.
func (m *Mapping) Read(book *sheet.Book, o Options, fn func(*Line) error) error {
	bound, err := m.bindAll(book, o)
	if err != nil {
		return err
	}
	for _, b := range bound {
		err := book.Rows(b.table, func(row sheet.Row) error {
			if row.Line <= b.sheet.header() {
				return nil
			}
			return fn(b.read(row))
		})
		if quote := (*sheet.QuoteError)(nil); errors.As(err, &quote) {
			return fmt.Errorf("%s: %w", book.Name(), err)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Header returns the names of a table's columns as they stand, for writing its
// rows out again.
func (m *Mapping) Header(book *sheet.Book, table string) ([]sheet.Cell, error) {
	s := m.sheet(table, len(book.Sheets()))
	if s == nil {
		return nil, fmt.Errorf("sheet %q is not in the mapping", table)
	}
	return headerOf(book, table, s.header())
}

// HeaderRow is the row that names a table's columns, from 1.
func (m *Mapping) HeaderRow(book *sheet.Book, table string) int {
	if s := m.sheet(table, len(book.Sheets())); s != nil {
		return s.header()
	}
	return 1
}

// Tables are the tables of a book that the mapping reads, those first that
// other tables refer to.
func (m *Mapping) Tables(book *sheet.Book) []string {
	var tables []string
	for _, t := range book.Sheets() {
		if s := m.sheet(t, len(book.Sheets())); s != nil && !s.Skip {
			tables = append(tables, t)
		}
	}
	slices.SortStableFunc(tables, func(x, y string) int {
		return m.sheet(x, len(book.Sheets())).rank() - m.sheet(y, len(book.Sheets())).rank()
	})
	return tables
}

// rank puts tables of customers first, then boats, then work: a row may name
// what an earlier table describes.
func (s *Sheet) rank() int {
	has := func(prefix string) bool {
		for _, f := range s.Columns {
			if strings.HasPrefix(f, prefix) {
				return true
			}
		}
		return false
	}
	switch {
	case has("work."):
		return 2
	case has("boat."):
		return 1
	}
	return 0
}

func (s *Sheet) header() int { return max(1, s.Header) }

// bindAll binds every table before any is read.
func (m *Mapping) bindAll(book *sheet.Book, o Options) ([]*binding, error) {
	var bound []*binding
	var all []error
	for _, table := range book.Sheets() {
		if m.sheet(table, len(book.Sheets())) == nil {
			all = append(all, fmt.Errorf("%s: sheet %q is not in the mapping; add it, with skip = true to leave it out", book.Name(), table))
		}
	}
	for _, table := range m.Tables(book) {
		s := m.sheet(table, len(book.Sheets()))
		header, err := headerOf(book, table, s.header())
		if err == nil {
			var b *binding
			if b, err = m.bind(table, s, header, o); err == nil {
				b.text = !book.Workbook()
				bound = append(bound, b)
			}
		}
		if err != nil {
			all = append(all, fmt.Errorf("%s, sheet %q: %w", book.Name(), table, err))
		}
	}
	return bound, errors.Join(all...)
}

var errFound = errors.New("found")

// headerOf reads one row of a table.
func headerOf(book *sheet.Book, table string, at int) ([]sheet.Cell, error) {
	var header []sheet.Cell
	err := book.Rows(table, func(row sheet.Row) error {
		if row.Line < at {
			return nil
		}
		if row.Line == at {
			header = slices.Clone(row.Cells)
		}
		return errFound
	})
	if err != nil && err != errFound {
		return nil, err
	}
	for len(header) > 0 && strings.TrimSpace(header[len(header)-1].Text) == "" {
		header = header[:len(header)-1]
	}
	if len(header) == 0 {
		return nil, fmt.Errorf("row %d is empty; say in the mapping which row names the columns", at)
	}
	return header, nil
}
