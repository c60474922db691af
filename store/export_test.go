package store

import "io"

// ParseDay is parseDay, for its test.
var ParseDay = parseDay

// MergeQuery is the statement by which a whole table is read.
func MergeQuery(table string) string {
	for _, p := range parts() {
		if p.table == table {
			return mergeQuery(p)
		}
	}
	return ""
}

// RowReader reads the rows of an export.
func RowReader(r io.Reader) func() ([]string, error) { return newRowReader(r).read }

// MigrateTo makes a database of an older version.
var MigrateTo = migrate
