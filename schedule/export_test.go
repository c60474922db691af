package schedule

import "bellbuoy/schedule/civil"

// FewestDays lets the tests try the grouping on bare windows of first and last day.
func FewestDays(windows [][2]civil.Day) [][]int {
	spans := make([]span, len(windows))
	for i, w := range windows {
		spans[i] = span{w[0], w[1]}
	}
	return fewestDays(spans)
}
