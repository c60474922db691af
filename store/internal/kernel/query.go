package kernel

import (
	"encoding/json"
	"strings"

	"bellbuoy/schedule/civil"
)

// pageSize is how many rows a list gives if the caller does not say.
const pageSize = 100

// LimitOr is the limit that was asked for, 100 if none was.
func LimitOr(n int) int {
	if n <= 0 {
		return pageSize
	}
	return n
}

// LastDay is the upper end of a range of days; none means without end.
func LastDay(d civil.Day) string {
	if d <= 0 {
		return "9999-12-31"
	}
	return d.String()
}

// Column returns the columns of a table with its short name before each.
func Column(short, columns string) string {
	return short + "." + strings.ReplaceAll(columns, ", ", ", "+short+".")
}

// AmongCustomers selects by a list of ids that is the first argument, as [IDList] makes it.
// Only without all of them in the same condition is an index used for a few.
func AmongCustomers(ids []string) string {
	if ids == nil {
		return "?1 IS NULL"
	}
	return "customer_id IN (SELECT value FROM json_each(?1))"
}

// IDList is a list of ids as one argument: JSON, or NULL for nil.
func IDList(ids []string) any {
	if ids == nil {
		return nil
	}
	b, err := json.Marshal(ids)
	if err != nil {
		panic("a list of texts is always JSON: " + err.Error())
	}
	return string(b)
}
