package schedule

import (
	"slices"
	"strings"
)

// join puts sentences together, leaving out those that say nothing.
func join(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}
