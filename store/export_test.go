package store

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
