package figures

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// CellKind says how a column of a list is written.
type CellKind int

// The kinds of column.
const (
	CellText   CellKind = iota
	CellDay             // YYYY-MM-DD
	CellNumber          // a plain number
	CellMoney           // decimal, without a currency sign
)

// Column is one column of a list.
type Column struct {
	Name string
	Kind CellKind
}

// Table is a list behind a figure. The money column that the figure is the sum
// of comes last; Total is its sum, if there is one. Other money columns add up to the
// figures beside it.
type Table struct {
	Query    Query
	Title    string
	About    string // what stands in the list and what does not, in a sentence or two
	Columns  []Column
	Rows     [][]string
	Boats    []string         // the boat of each row, "" for none, for links
	Sums     []schedule.Cents // of each column, 0 where it is no money
	Total    schedule.Cents
	HasTotal bool
	Minutes  int // total of labour, for lists of it
}

// columns makes columns of kind text, and of the kind after a colon: "Day:d".
func columns(names ...string) []Column {
	out := make([]Column, len(names))
	for i, n := range names {
		name, kind, _ := strings.Cut(n, ":")
		out[i] = Column{Name: name, Kind: map[string]CellKind{"d": CellDay, "n": CellNumber, "m": CellMoney}[kind]}
	}
	return out
}

// row adds a row; cells are texts, days, numbers or money.
func (t *Table) row(boat string, cells ...any) {
	out := make([]string, len(cells))
	if t.Sums == nil {
		t.Sums = make([]schedule.Cents, len(cells))
	}
	for i, c := range cells {
		switch c := c.(type) {
		case schedule.Cents:
			out[i] = c.String()
			t.Sums[i] += c
		case civil.Day:
			out[i] = c.String()
		case float64:
			out[i] = fmt.Sprintf("%.3f", c)
		default:
			out[i] = fmt.Sprint(c)
		}
	}
	t.Rows = append(t.Rows, out)
	t.Boats = append(t.Boats, boat)
}

// WriteCSV writes the list with one header line: UTF-8, comma, CRLF as RFC 4180
// has it. A text that a spreadsheet program would take for a formula gets an
// apostrophe before it, which such programs show as the text itself. So does what
// one would that cuts cells at semicolons or tabs, as in countries with a decimal
// comma: it knows no quotes in the middle of what it takes for a cell.
func (t *Table) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	line := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		line[i] = c.Name
	}
	if err := out.Write(line); err != nil {
		return fmt.Errorf("write list %q: %w", t.Query, err)
	}
	for _, r := range t.Rows {
		for i, cell := range r {
			line[i] = cell
			if t.Columns[i].Kind == CellText {
				line[i] = words.Harmless(cell)
			}
		}
		if err := out.Write(line); err != nil {
			return fmt.Errorf("write list %q: %w", t.Query, err)
		}
	}
	out.Flush()
	return out.Error()
}

// List makes the list that a query asks for.
func (l *Ledger) List(ctx context.Context, q Query) (*Table, error) {
	t := &Table{Query: q}
	var err error
	switch q.List {
	case ListWork:
		err = l.listWork(ctx, t)
	case ListSales:
		l.listSales(t)
	case ListSpells:
		l.listSpells(t)
	case ListSeason:
		err = l.listSeason(ctx, t)
	case ListExpected:
		err = l.listExpected(ctx, t)
	case ListAway:
		err = l.listAway(ctx, t)
	case ListHours:
		err = l.listHours(ctx, t)
	case ListVisits:
		err = l.listVisits(ctx, t)
	case ListWarranty:
		err = l.listWarranty(ctx, t)
	case ListParts:
		err = l.listParts(ctx, t)
	case ListNudges:
		err = l.listNudges(ctx, t)
	case ListDone:
		err = l.listDone(ctx, t)
	case ListNoShows:
		err = l.listNoShows(ctx, t)
	case ListSold:
		l.listSold(t)
	case ListForecast:
		err = l.listForecast(ctx, t)
	case ListChances:
		err = l.listChances(ctx, t)
	case ListReminded:
		err = l.listReminded(ctx, t)
	default:
		return nil, fmt.Errorf("list %q: no such list; want one of %q", q.List, Lists())
	}
	if last := len(t.Columns) - 1; last >= 0 && t.Columns[last].Kind == CellMoney {
		if t.HasTotal = true; len(t.Sums) > 0 {
			t.Total = t.Sums[last]
		}
	}
	return t, err
}

// names are a boat and its holder on a day, as lists show them.
func (l *Ledger) names(boat string, day civil.Day) (title, customer string) {
	all := l.ofBoat[boat]
	if len(all) == 0 {
		return "Boat " + boat, ""
	}
	title = l.tenures[all[0]].Boat.Title()
	if i := l.holder(boat, day); i >= 0 {
		customer = l.tenures[i].Customer.Name
	}
	return title, customer
}
