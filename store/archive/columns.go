package archive

import (
	"context"
	_ "embed"
	"encoding/base64"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"bellbuoy/store/internal/kernel"
)

// columnsFile describes every column of every table: what its cells look like
// in an export, and what they mean. It goes along with each export.
//
//go:embed columns.csv
var columnsFile string

// The kinds of cells whose text in an export differs from what the table holds.
const (
	kindMoment = "moment" // RFC 3339 in UTC; the table holds seconds since 1970
	kindHours  = "hours"  // with one decimal; the table holds tenths
	kindMoney  = "money"  // with two decimals; the table holds hundredths
	kindBytes  = "bytes"  // base64
	kindNumber = "number"
	kindWhole  = "whole"
	kindText   = "text" // as it is: also a day, a list of one a line, JSON
)

// column is one column of a table in an export.
type column struct {
	name     string
	kind     string
	nullable bool // an empty cell is NULL
}

// excludedColumns are the columns that do not leave the house, with what stands in
// them after an export has been taken in: passwords, and what holds the mail of
// this one machine.
func excludedColumns() map[string]any {
	return map[string]any{
		"staff.hash":     "",
		"sending.held":   "imported from an export: make sure that no other machine still sends, check the emails, then release",
		"sending.paused": "",
	}
}

// excludedTable are the tables that do not leave the house: who is signed in, and
// the migrations' own.
func excludedTable(table string) bool { return table == "sessions" || table == "goose_db_version" }

// columnsOf are the columns of a table that an export holds, in the table's
// order.
func columnsOf(ctx context.Context, q kernel.Querier, table string) ([]column, error) {
	kinds, err := columnKinds()
	if err != nil {
		return nil, err
	}
	all, err := kernel.Collect(ctx, q, func(c *kernel.Row) column {
		e := column{name: c.Text(0), nullable: !c.Bool(2), kind: kindText}
		switch c.Text(1) {
		case "INTEGER":
			e.kind = kindWhole
		case "REAL":
			e.kind = kindNumber
		case "BLOB":
			e.kind = kindBytes
		}
		if k := kinds[table+"."+e.name]; k == kindMoment || k == kindHours || k == kindMoney {
			e.kind = k
		}
		return e
	}, `SELECT name, type, "notnull" OR pk > 0 FROM pragma_table_info(?)`, table)
	kept := excludedColumns()
	return slices.DeleteFunc(all, func(e column) bool { _, ok := kept[table+"."+e.name]; return ok }), err
}

// columnKinds reads the kinds from the description of the columns.
func columnKinds() (map[string]string, error) {
	lines, err := csv.NewReader(strings.NewReader(columnsFile)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("the description of the columns: %w", err)
	}
	kinds := make(map[string]string, len(lines))
	for _, l := range lines[1:] {
		kinds[l[0]+"."+l[1]] = l[2]
	}
	return kinds, nil
}

// write puts the i-th cell of a row into an export's words.
func (e column) write(c *kernel.Row, i int) string {
	if c.Null(i) {
		return ""
	}
	switch e.kind {
	case kindMoment:
		return time.Unix(c.Int(i), 0).UTC().Format(time.RFC3339)
	case kindHours:
		return fixed(c.Int(i), 1)
	case kindMoney:
		return fixed(c.Int(i), 2)
	case kindWhole:
		return strconv.FormatInt(c.Int(i), 10)
	case kindNumber:
		return strconv.FormatFloat(c.Real(i), 'g', -1, 64)
	case kindBytes:
		return base64.StdEncoding.EncodeToString(c.Blob(i))
	}
	return c.Text(i)
}

// read turns an export's words back into what the table holds.
func (e column) read(s string) (any, error) {
	if s == "" && e.nullable {
		return nil, nil
	}
	switch e.kind {
	case kindMoment:
		t, err := time.Parse(time.RFC3339, s)
		return t.Unix(), err
	case kindHours:
		return unfixed(s, 1)
	case kindMoney:
		return unfixed(s, 2)
	case kindWhole:
		return strconv.ParseInt(s, 10, 64)
	case kindNumber:
		return strconv.ParseFloat(s, 64)
	case kindBytes:
		return base64.StdEncoding.DecodeString(s)
	}
	return s, nil
}

// fixed writes a number of tenths or hundredths with its decimals.
func fixed(n int64, decimals int) string {
	s := strconv.FormatInt(n, 10)
	s, negative := strings.CutPrefix(s, "-")
	s = strings.Repeat("0", max(0, decimals+1-len(s))) + s
	s = s[:len(s)-decimals] + "." + s[len(s)-decimals:]
	if negative {
		s = "-" + s
	}
	return s
}

// unfixed reads what fixed wrote.
func unfixed(s string, decimals int) (int64, error) {
	whole, fraction, _ := strings.Cut(s, ".")
	if len(fraction) != decimals {
		return 0, fmt.Errorf("%q: want a number with %d decimals", s, decimals)
	}
	return strconv.ParseInt(whole+fraction, 10, 64)
}
