package config_test

import (
	"slices"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
)

// TestClosedDays: the holidays are those that 5 U.S.C. 6103 names, kept on the
// Friday before where they fall on a Saturday, also across the turn of the year.
func TestClosedDays(t *testing.T) {
	var c config.Config
	c.Weeks.Calendar = "us"
	c.Weeks.Holidays = []civil.Day{civil.Of(2027, 11, 26), civil.Of(2027, 12, 31)}
	got := c.Closed(civil.Of(2027, 11, 1), civil.Of(2027, 12, 31))
	var words []string
	for _, d := range got {
		words = append(words, d.String())
	}
	// 1 January 2028 and 25 December 2027 are Saturdays.
	want := []string{"2027-11-11", "2027-11-25", "2027-11-26", "2027-12-24", "2027-12-31"}
	if !slices.Equal(words, want) {
		t.Errorf("closed %v, want %v", words, want)
	}
	c.Weeks.Holidays = nil
	if d := civil.Of(2027, 12, 31); !c.IsClosed(d) {
		t.Errorf("%s is open, though New Year's Day of 2028 is kept on it", d)
	}
}
