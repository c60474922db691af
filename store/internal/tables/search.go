package tables

import (
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
)

// customerSearch is what a search of customers looks through, a fact a line. The
// phone number stands between two others, so that a whole one can be looked for.
func customerSearch(c schedule.Customer) string {
	return kernel.JoinLines([]string{match.Fold(c.Name), match.Fold(c.ID), match.Fold(c.Email), match.Digits(c.Phone),
		match.Fold(c.Address), match.Fold(c.City), match.Fold(c.Region), match.Fold(c.PostalCode)})
}

func boatSearch(b schedule.Boat) string {
	year := ""
	if b.Year != 0 {
		year = strconv.Itoa(b.Year)
	}
	return kernel.JoinLines([]string{match.Fold(b.Name), match.Fold(b.ID), match.Fold(b.HIN), match.Fold(b.Make + " " + b.Model), year})
}
