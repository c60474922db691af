package store

import (
	"encoding/json"
	"strings"

	"bellbuoy/schedule/civil"
)

// pageSize is how many rows a list gives if the caller does not say.
const pageSize = 100

// limitOr is the limit that was asked for, 100 if none was.
func limitOr(n int) int {
	if n <= 0 {
		return pageSize
	}
	return n
}

// lastDay is the upper end of a range of days; none means without end.
func lastDay(d civil.Day) string {
	if d <= 0 {
		return "9999-12-31"
	}
	return d.String()
}

// column returns the columns of a table with its short name before each.
func column(short, columns string) string {
	return short + "." + strings.ReplaceAll(columns, ", ", ", "+short+".")
}

// amongCustomers selects by a list of ids that is one argument, NULL for all.
const amongCustomers = "(?1 IS NULL OR customer_id IN (SELECT value FROM json_each(?1)))"

// idList is a list of ids as one argument: JSON, or NULL for nil.
func idList(ids []string) any {
	if ids == nil {
		return nil
	}
	b, err := json.Marshal(ids)
	if err != nil {
		panic("a list of texts is always JSON: " + err.Error())
	}
	return string(b)
}
