package store

// MergeQuery is the statement by which a whole table is read.
func MergeQuery(table string) string {
	for _, p := range boatTables() {
		if p.table == table {
			return mergeQuery(p)
		}
	}
	return ""
}
