package imports

import (
	"cmp"
	"maps"
	"slices"

	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// ReturnedRows are the rows that were not taken, to be written down.
type ReturnedRows struct{ t *taking }

// Tables counts the tables of which rows are returned.
func (r *ReturnedRows) Tables() int {
	seen := map[int32]bool{}
	for at := range r.t.returned {
		seen[at.table] = true
	}
	return len(seen)
}

// Write writes the rows as they stood, table by table under their own header,
// with their id and the reason in two more columns at the end. Corrected there,
// they can be taken in through the same mapping; by its id a row replaces itself
// and no other.
func (r *ReturnedRows) Write(w sheet.Writer) error {
	n := int32(-1)
	for i, book := range r.t.books {
		for _, table := range r.t.mapping.Tables(book) {
			n++
			if err := r.table(w, book, table, place{book: int32(i), table: n}); err != nil {
				return err
			}
		}
	}
	return nil
}

// table writes the returned rows of one table, nothing if there are none.
func (r *ReturnedRows) table(w sheet.Writer, book *sheet.Book, table string, at place) error {
	if !slices.ContainsFunc(sortedPlaces(r.t.returned), func(p place) bool { return p.table == at.table }) {
		return nil
	}
	header, err := r.t.mapping.Header(book, table)
	if err != nil {
		return err
	}
	if err := w.Sheet(table); err != nil {
		return err
	}
	// A file of returned rows that comes back already ends in the ids and reasons.
	width := len(header)
	for width > 0 && (header[width-1].Text == mapping.Reason || header[width-1].Text == mapping.RowID) {
		width--
	}
	line := func(cells []sheet.Cell, id, reason string) error {
		out := make([]sheet.Cell, max(width, len(cells)), max(width, len(cells))+2)
		copy(out, cells)
		return w.Row(append(out, sheet.Cell{Text: id}, sheet.Cell{Text: reason}))
	}
	for range r.t.mapping.HeaderRow(book, table) - 1 { // so that the mapping finds the header where it was
		if err := w.Row(nil); err != nil {
			return err
		}
	}
	if err := line(header[:width], mapping.RowID, mapping.Reason); err != nil {
		return err
	}
	return book.Rows(table, func(row sheet.Row) error {
		at.line = int32(row.Line)
		reason, ok := r.t.returned[at]
		if !ok {
			return nil
		}
		cells := row.Cells
		if len(header) > width && len(cells) > width {
			cells = cells[:width]
		}
		return line(cells, r.t.ids[at], reason)
	})
}

// settle writes the returned rows down before the rest is committed.
func (t *taking) settle() error {
	if len(t.returned) == 0 || t.opts.Returned == nil {
		return nil
	}
	return t.opts.Returned(&ReturnedRows{t})
}

// count completes the report of the last pass.
func (t *taking) count() {
	t.countMoney()
	rep := &t.report
	for _, at := range sortedPlaces(t.returned) {
		rep.Tables[at.table].Returned++
		if len(rep.Listed) < t.limit() {
			rep.Listed = append(rep.Listed, t.reason(at, t.returned[at]))
		}
	}
	for i := range rep.Tables {
		table := &rep.Tables[i]
		table.Taken = table.Rows - table.Returned
		rep.Rows += table.Rows
		rep.Taken += table.Taken
		rep.Returned += table.Returned
	}
}

// countMoney adds up what was paid, by year.
func (t *taking) countMoney() {
	years := map[int]*YearMoney{}
	for _, p := range t.paid {
		y := 0
		if p.Day != 0 {
			y = p.Day.Year()
		}
		if years[y] == nil {
			years[y] = &YearMoney{Year: y}
		}
		years[y].Table += p.Amount
		if _, back := t.returned[p.at]; !back {
			years[y].Taken += p.Amount
		}
	}
	for _, y := range slices.Sorted(maps.Keys(years)) {
		t.report.Money = append(t.report.Money, *years[y])
	}
}

// sortedPlaces are the places of a map in the order of the files.
func sortedPlaces(m map[place]string) []place {
	all := make([]place, 0, len(m))
	for at := range m {
		all = append(all, at)
	}
	slices.SortFunc(all, func(a, b place) int {
		return cmp.Or(cmp.Compare(a.book, b.book), cmp.Compare(a.table, b.table), cmp.Compare(a.line, b.line))
	})
	return all
}
