package level_test

import (
	"fmt"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// Three lay-ups have to be done before the freeze, in two weeks that have hours
// for two; the boat with raw water in its engine must not be the one that waits.
func ExampleFit() {
	october := civil.Of(2027, 10, 4).Week()
	weeks := []level.Capacity{
		{Week: october, Capacity: 300, Booked: 180},
		{Week: october + 1, Capacity: 150},
		{Week: october + 2, Capacity: 300},
	}
	jobs := []level.Job{
		{ID: "Sandpiper", Minutes: 120, First: october, Deadline: october + 1, Priority: 30},
		{ID: "Grey Goose", Minutes: 120, First: october, Deadline: october + 1, Priority: 90},
		{ID: "Second Wind", Minutes: 120, First: october, Deadline: october + 1, Priority: 50},
	}
	r := level.Fit(weeks, jobs)
	for _, p := range r.Placements {
		fmt.Printf("%s: week %s, late %v. %s\n", p.ID, p.Week, p.Late, p.Why)
	}
	for _, s := range r.Short {
		fmt.Printf("Week %s is short of %d minutes for %v.\n", s.Week, s.Over, s.Jobs)
	}
	// Output:
	// Sandpiper: week 2027-W42, late true. The shop has no hours left for it by week 2027-W41.
	// Grey Goose: week 2027-W40, late false. This is an early week with hours left.
	// Second Wind: week 2027-W41, late false. This is an early week with hours left.
	// Week 2027-W41 is short of 90 minutes for [Sandpiper].
}
