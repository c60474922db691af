package imports

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// MappedOptions change how a shop's own files are taken in.
type MappedOptions struct {
	Actor      string
	DryRun     bool // find faults and count, then write nothing
	AcceptGood bool // take the rows that can be taken although others cannot
	MaxFaults  int  // how many returned rows and notes are listed; 0 means 200
	// Returned is called before the commit if rows are returned, so that they
	// are safe on paper before the rest is in; an error undoes everything. May
	// be nil.
	Returned func(*ReturnedRows) error
	Progress func(rows int) // called now and then with the rows read so far; may be nil
}

// MappedReport says what an intake through a mapping did, or would have done.
// Rows is always Taken + len of all returned.
type MappedReport struct {
	Tables   []TableReport `json:"tables"`
	Rows     int           `json:"rows"`
	Taken    int           `json:"taken"`
	Returned int           `json:"returned"`
	Listed   []RowReason   `json:"returned_rows,omitempty"` // cut off at MaxFaults
	Notes    []RowReason   `json:"notes,omitempty"`         // likewise
	NotesAll int           `json:"note_count"`
	Money    []YearMoney   `json:"money"` // by year, in order
	// Customers whom rows reach in several ways, cut off likewise, and how many.
	Joined    []Joined     `json:"joined,omitempty"`
	JoinedAll int          `json:"joined_count"`
	Files     []FileReport `json:"files"` // what the rows became
}

// TableReport counts the rows of one table, without its header.
type TableReport struct {
	Book     string `json:"book"`
	Table    string `json:"table"`
	Rows     int    `json:"rows"`
	Taken    int    `json:"taken"`
	Returned int    `json:"returned"`
}

// YearMoney is what the tables say was paid in a year, and how much of it is taken;
// the rest stands on returned rows. Year 0 is money without a day.
type YearMoney struct {
	Year  int            `json:"year"`
	Table schedule.Cents `json:"in_tables"`
	Taken schedule.Cents `json:"taken"`
}

// RowReason is why a row was returned, or what should be looked at.
type RowReason struct {
	Book   string `json:"book"`
	Table  string `json:"table"`
	Line   int    `json:"line"`
	Reason string `json:"reason"`
}

// String writes "Boats:41: what is wrong".
func (r RowReason) String() string { return fmt.Sprintf("%s:%d: %s", r.Table, r.Line, r.Reason) }

// place is where a row stands: the book, the table in it, the line.
type place struct{ book, table, line int32 }

// IntakeMapped takes in a shop's own tables through a mapping, in one
// transaction. A row is taken whole or returned whole, with the reason; rows
// that stand on a returned one (the work on a boat that is described nowhere
// else) are returned too. Unless AcceptGood is set, nothing is taken while any
// row has a fault, and the error is [ErrIntake].
//
// Boats and customers that the tables number keep those ids. Whom and which boat
// the other rows mean is decided from all rows and the store together, before any
// is taken, so that their order decides nothing; see [identities]. The same tables
// again change nothing, and next month's table of work finds its boats. An empty
// cell changes nothing that is known.
//
// The tables are read once for that, and then twice, for customers and boats and for
// work and meters, until that brings no new fault.
// Memory grows with the boats and customers and the ways in which rows spell them, and
// by some two hundred bytes a row, not with what the rows say.
func IntakeMapped(ctx context.Context, db *store.DB, now time.Time, books []*sheet.Book, m *mapping.Mapping, known Known, opts MappedOptions) (MappedReport, error) {
	if asked := m.Questions(); len(asked) > 0 {
		return MappedReport{}, &OpenQuestions{asked}
	}
	t := &taking{db: db, ctx: ctx, now: now, books: books, mapping: m, known: known, opts: opts, returned: map[place]string{}, ids: map[place]string{}, contradicted: map[estimate]bool{}}
	t.mapped = mapping.Options{Today: civil.FromTime(now.UTC()), Services: known.Services, Places: known.Places, CheckAddress: store.CheckAddress}
	var err error
	if t.merged, err = duplicates.MergedNames(ctx, db.Read); err != nil {
		return MappedReport{}, fmt.Errorf("import: %w", err)
	}
	if err := t.identify(); err != nil {
		return MappedReport{}, err
	}
	for {
		before := t.found()
		err := t.pass()
		switch {
		case errors.Is(err, errAgain) && t.found() > before:
			continue
		case errors.Is(err, errAgain):
			return t.report, fmt.Errorf("import: the faults could not be traced to rows: %w", err)
		case err == nil && len(t.returned) > 0 && !opts.AcceptGood:
			err = fmt.Errorf("import: %d rows cannot be taken: %w", len(t.returned), ErrIntake)
		}
		return t.report, err
	}
}

// OpenQuestions is a mapping that is not ready.
type OpenQuestions struct{ Questions []string }

// Error counts the questions and says what to do.
func (e *OpenQuestions) Error() string {
	return fmt.Sprintf("questions are open in the mapping (%d); answer each %q", len(e.Questions), mapping.Open)
}

// errAgain says that a pass found further faults.
var errAgain = errors.New("further faults")

// taking is one intake through a mapping, over all its passes.
type taking struct {
	db       *store.DB
	ctx      context.Context
	now      time.Time
	books    []*sheet.Book
	mapping  *mapping.Mapping
	known    Known
	mapped   mapping.Options
	opts     MappedOptions
	merged   map[string]string // see mergedNames
	returned map[place]string  // rows that cannot be taken, with the reason
	ids      map[place]string  // of the returned rows; whole after the last pass
	// Estimates of hours that readings contradict; they are left out.
	contradicted map[estimate]bool
	ident        *identities // who and which boat each row means
	paid         []paidAt    // of all rows, of the last pass
	report       MappedReport
}

// paidAt is an amount and the row that gives it.
type paidAt struct {
	at place
	mapping.Paid
}

// found counts what no further pass reads.
func (t *taking) found() int { return len(t.returned) + len(t.contradicted) }

// pass reads everything but the rows returned so far. If it meets no new fault
// it has also written everything; otherwise it has written nothing.
func (t *taking) pass() error {
	joined := t.ident.joined()
	t.report = MappedReport{Joined: joined[:min(len(joined), t.limit())], JoinedAll: len(joined)}
	t.paid = t.paid[:0]
	for _, book := range t.books {
		for _, name := range t.mapping.Tables(book) {
			t.report.Tables = append(t.report.Tables, TableReport{Book: book.Name(), Table: name})
		}
	}
	c := newConverter(t)
	if err := t.gather(c); err != nil {
		return err
	}
	taken := len(t.returned) // from here on a row that goes back was taken before
	described := c.boats.described()
	c.metersRise()
	if len(t.returned) > taken {
		return errAgain
	}
	trial := t.opts.DryRun || len(t.returned) > 0 && !t.opts.AcceptGood
	in := newIntake(t.ctx, t.now, t.known, IntakeOptions{Actor: t.opts.Actor, DryRun: trial, MaxFaults: 1})
	in.where = c.where
	in.report.onFault, in.report.onNote = c.blame, c.noteWork
	err := in.take(t.db, func() error { return c.give(in, described) }, t.settle)
	t.report.Files = in.report.Files
	for _, b := range c.blamed {
		t.giveBackFor(b.at, b.reason)
	}
	if err != nil && !errors.Is(err, ErrIntake) {
		return err
	}
	if err != nil {
		return errors.Join(errAgain, errors.Join(c.untraced...))
	}
	t.count()
	return nil
}

// gather reads every row once, for the customers and boats and for what is wrong.
func (t *taking) gather(c *converter) error {
	return t.eachRow(func(at place, l *mapping.Line, row sourceRow) error {
		t.report.Tables[at.table].Rows++
		for _, p := range l.Paid {
			t.paid = append(t.paid, paidAt{at, p})
		}
		if _, bad := t.returned[at]; bad {
			t.ids[at] = row.id
			return nil
		}
		return c.take(at, l, row)
	})
}

// readRow is a row as its mapping reads it.
type readRow struct {
	at   place
	line *mapping.Line
	row  sourceRow
}

// eachRow reads every table once. The next rows are read while fn has one.
func (t *taking) eachRow(fn func(at place, l *mapping.Line, row sourceRow) error) error {
	rows := 0
	return kernel.Pipe(t.ctx, t.readRows, func(r *readRow) error {
		if rows++; t.opts.Progress != nil && rows%1000 == 0 {
			t.opts.Progress(rows)
		}
		return fn(r.at, r.line, r.row)
	})
}

func (t *taking) readRows(ctx context.Context, out *kernel.Pipeline[readRow]) error {
	rows, first := 0, 0      // rows read, and the number of the book's first table
	alike := map[int64]int{} // how many rows had these cells, or this id, before
	for i, book := range t.books {
		names := t.mapping.Tables(book)
		err := t.mapping.Read(book, t.mapped, func(l *mapping.Line) error {
			r, err := out.Slot(ctx)
			if err != nil {
				return err
			}
			*r = readRow{place{int32(i), int32(first + slices.Index(names, l.Sheet)), int32(l.Row.Line)}, l, rowName(book, l, alike)}
			r.row.no = rows
			l.Row.Cells = nil // the next row's by then
			rows++
			return nil
		})
		if err != nil {
			return err
		}
		first += len(names)
	}
	return out.Flush(ctx)
}

// sourceRow is what a row is known by over several intakes.
type sourceRow struct {
	no     int // counted over all tables, from 0
	id     string
	source string // the file's name without its folder
	named  bool   // the file of returned rows gives the id
}

// rowName makes the id of a row: the one that its file gives, else out of the
// file's name, the table's, the row's cells as they stand and how many rows alike
// came before it. A copy of a row with an id is a row of its own.
func rowName(book *sheet.Book, l *mapping.Line, alike map[int64]int) sourceRow {
	row := sourceRow{id: l.RowID, source: baseName(book.Name()), named: l.RowID != ""}
	parts := []string{"row", row.id}
	if !row.named {
		table := l.Sheet
		if !book.Workbook() {
			table = "" // named after its file
		}
		parts = append(parts, row.source, table)
		parts = append(parts, l.Original...)
	}
	hash := tables.Hash63(parts...)
	before := alike[hash]
	alike[hash]++
	if !row.named || before > 0 {
		row.id = tables.RowID(append(parts, strconv.Itoa(before))...)
	}
	return row
}

// giveBack returns a row with everything that is wrong with it.
func (t *taking) giveBack(at place, all []mapping.Remark) {
	for _, r := range all {
		t.giveBackFor(at, remark(r.Column, r.What))
	}
}

// giveBackFor adds a reason to a row's return.
func (t *taking) giveBackFor(at place, reason string) {
	if before := t.returned[at]; before != "" && before != reason {
		reason = before + "; " + reason
	}
	t.returned[at] = reason
}

func (t *taking) noteAll(at place, all []mapping.Remark) {
	for _, r := range all {
		t.note(at, remark(r.Column, r.What))
	}
}

func (t *taking) note(at place, what string) {
	t.report.NotesAll++
	if len(t.report.Notes) < t.limit() {
		t.report.Notes = append(t.report.Notes, t.reason(at, what))
	}
}

func (t *taking) limit() int {
	if t.opts.MaxFaults <= 0 {
		return usualFaults
	}
	return t.opts.MaxFaults
}

func (t *taking) reason(at place, what string) RowReason {
	table := t.report.Tables[at.table]
	return RowReason{table.Book, table.Table, int(at.line), what}
}

func remark(column, what string) string {
	if column == "" {
		return what
	}
	return column + ": " + what
}
