package rules

import (
	"maps"
	"slices"
)

// Words gives tests the words that an attribute may have.
func Words(attribute string) []string {
	if attribute == "kind" {
		return slices.Sorted(maps.Keys(kinds))
	}
	return slices.Clone(closed[attribute])
}
