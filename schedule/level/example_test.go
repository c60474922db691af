package level_test

import (
	"fmt"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
)

// Three lay-ups have to be done before the freeze, in two weeks that have hours
// for two; the boat with raw water in its engine must not be the one that waits.
func ExampleFit() {
	october := civil.Of(2027, 10, 4).Week()
	weeks := []level.Capacity{{Week: october}, {Week: october + 1}, {Week: october + 2}}
	weeks[0].Days[0][level.Labor], weeks[0].Booked[0][level.Labor] = 300, 180 // on Monday
	weeks[1].Days[2][level.Labor] = 150                                       // on Wednesday
	weeks[2].Days[0][level.Labor] = 300
	jobs := []level.Job{
		{ID: "Sandpiper", Needs: level.Amounts{level.Labor: 120}, First: october, Deadline: civil.Of(2027, 10, 14), Priority: 30},
		{ID: "Grey Goose", Needs: level.Amounts{level.Labor: 120}, First: october, Deadline: civil.Of(2027, 10, 14), Priority: 90},
		{ID: "Second Wind", Needs: level.Amounts{level.Labor: 120}, First: october, Deadline: civil.Of(2027, 10, 14), Priority: 50},
	}
	r := level.Fit(weeks, jobs, level.DefaultTarget)
	for _, p := range r.Placements {
		fmt.Printf("%s: week %s, late %v. %s\n", p.ID, p.Week, p.Late, p.Why.Words(words.Format{}))
	}
	for _, s := range r.Short {
		fmt.Printf("Week %s is short of %d minutes for %v.\n", s.Week, s.Over[level.Labor], s.Jobs)
	}
	// Output:
	// Sandpiper: week 2027-W42, late true. The shop has no hours left for it by October 14, 2027.
	// Grey Goose: week 2027-W40, late false. This is an early week with hours left.
	// Second Wind: week 2027-W41, late false. This is an early week with hours left.
	// Week 2027-W41 is short of 90 minutes for [Sandpiper].
}
