package schedule_test

import (
	"testing"

	"bellbuoy/schedule"
)

// A cruiser in the yard has a block of its own; other boats in the yard share one,
// which counts before that for cruisers anywhere; a runabout at its owner's dock
// has the block for all others. An extra visit lifts no boat.
func TestYardTakesTheBlockThatSaysMost(t *testing.T) {
	y := schedule.Yard{Crew: true, Lifts: true, Work: []schedule.YardWork{
		{Launch: 5},
		{Kind: "cruiser", Haul: 10},
		{Berth: "shop-outside", Haul: 20, Wash: 1},
		{Berth: "shop-outside", Kind: "cruiser", Haul: 30, Wash: 2, Block: 3, Wrap: 4, Launch: 50},
	}}
	for _, c := range []struct {
		berth, kind, visit string
		minutes, lifts     int
	}{
		{"shop-outside", "cruiser", schedule.LayUp, 39, 1},
		{"shop-outside", "cruiser", schedule.FitOut, 50, 1},
		{"shop-outside", "runabout", schedule.LayUp, 21, 1},
		{"shop-outside", "runabout", schedule.FitOut, 0, 0},
		{"own-dock", "cruiser", schedule.LayUp, 10, 1},
		{"own-dock", "runabout", schedule.LayUp, 0, 0},
		{"own-dock", "runabout", schedule.FitOut, 5, 1},
		{"shop-outside", "cruiser", schedule.Extra, 0, 0},
	} {
		b := schedule.Boat{Berth: c.berth, Kind: c.kind}
		if minutes, lifts := y.Takes(&b, c.visit); minutes != c.minutes || lifts != c.lifts {
			t.Errorf("%s of a %s at %s: %d minutes, %d lifts; want %d, %d", c.visit, c.kind, c.berth, minutes, lifts, c.minutes, c.lifts)
		}
	}
	lifts := schedule.Yard{Lifts: true, Work: y.Work}
	if minutes, n := lifts.Takes(&schedule.Boat{Berth: "shop-outside", Kind: "cruiser"}, schedule.LayUp); minutes != 0 || n != 1 {
		t.Errorf("a yard that counts lifts alone takes %d minutes, %d lifts", minutes, n)
	}
}

// What is recorded of a day took the yard what its kind of visit takes, once,
// however many records say so. A haul-out without a winterization took the hauling
// alone.
func TestYardTookWhatIsRecorded(t *testing.T) {
	y := schedule.Yard{Crew: true, Lifts: true, Work: []schedule.YardWork{{Haul: 30, Wash: 2, Block: 3, Wrap: 4, Launch: 50}}}
	for _, c := range []struct {
		name           string
		services       []string
		minutes, lifts int
	}{
		{"nothing of the yard's", []string{"engine-oil", "impeller"}, 0, 0},
		{"a winterization and its own haul-out", []string{"engine-oil", "haul-out", "lay-up"}, 39, 1},
		{"a winterization of a boat that we do not keep", []string{"lay-up"}, 39, 1},
		{"a haul-out alone", []string{"haul-out"}, 30, 1},
		{"a commissioning and its own launch", []string{"fit-out", "launch"}, 50, 1},
		{"out and in again on one day", []string{"haul-out", "launch"}, 80, 2},
	} {
		if minutes, lifts := y.Took(&schedule.Boat{}, c.services); minutes != c.minutes || lifts != c.lifts {
			t.Errorf("%s: %d minutes, %d lifts; want %d, %d", c.name, minutes, lifts, c.minutes, c.lifts)
		}
	}
}
