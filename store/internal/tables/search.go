package tables

import (
	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
)

func customerSearch(c schedule.Customer) string {
	return kernel.JoinLines([]string{match.Fold(c.Name), match.Fold(c.ID), match.Fold(c.Email), match.Digits(c.Phone)})
}

func boatSearch(b schedule.Boat) string {
	return kernel.JoinLines([]string{match.Fold(b.Name), match.Fold(b.ID), match.Fold(b.HIN), match.Fold(b.Make + " " + b.Model)})
}
