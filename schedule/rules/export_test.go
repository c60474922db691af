package rules

import "slices"

// Words gives tests the words that an attribute may have.
func Words(attribute string) []string {
	if attribute == "kind" {
		return kindNames()
	}
	return slices.Clone(closed[attribute])
}
