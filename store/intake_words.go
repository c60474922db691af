package store

import (
	"fmt"

	"bellbuoy/store/internal/match"
)

// didYouMean asks whether the word of the list that is nearest to s was meant;
// if none is near, it says otherwise.
func didYouMean(s string, list []string, otherwise string) string {
	best, at := "", max(1, len(s)/3)+1
	for _, w := range list {
		if d := match.EditDistance(s, w, at); d < at {
			best, at = w, d
		}
	}
	if best == "" {
		return otherwise
	}
	return fmt.Sprintf("did you mean %q?", best)
}
