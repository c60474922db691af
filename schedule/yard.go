package schedule

// Yard is what of the yard limits the shop's weeks beside its technicians.
type Yard struct {
	Crew, Lifts bool // whether the hours of its crew and the moves of its lift do
	Work        []YardWork
}

// YardWork is how long the yard crew takes with a boat of one kind in one place,
// in minutes. A boat takes the block that says most about it: berth and kind, then
// berth, then kind, then neither.
type YardWork struct {
	Berth string `toml:"berth"` // one of Berths, "" for any
	Kind  string `toml:"kind"`  // one of BoatKinds, "" for any

	// With the lay-up.
	Haul  int `toml:"haul"`
	Wash  int `toml:"wash"`
	Block int `toml:"block"`
	Wrap  int `toml:"wrap"`
	// With the fit-out: unwrapping and taking off the blocks included.
	Launch int `toml:"launch"`
}

// Takes is what a visit of a boat takes of the yard as far as that limits weeks:
// minutes of its crew, and how often the lift moves the boat.
func (y *Yard) Takes(b *Boat, kind string) (minutes, lifts int) {
	var best YardWork
	said := -1
	for _, w := range y.Work {
		if w.Berth != "" && w.Berth != b.Berth || w.Kind != "" && w.Kind != b.Kind {
			continue
		}
		says := 0
		if w.Berth != "" {
			says += 2
		}
		if w.Kind != "" {
			says++
		}
		if says > said {
			best, said = w, says
		}
	}
	moves := 0
	switch kind {
	case LayUp:
		minutes, moves = best.Haul+best.Wash+best.Block+best.Wrap, best.Haul
	case FitOut:
		minutes, moves = best.Launch, best.Launch
	}
	if y.Lifts && moves > 0 {
		lifts = 1
	}
	if !y.Crew {
		minutes = 0
	}
	return minutes, lifts
}
