package schedule

import "slices"

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
	w := y.workOn(b)
	switch kind {
	case LayUp:
		return y.limits(w.Haul+w.Wash+w.Block+w.Wrap, w.Haul)
	case FitOut:
		return y.limits(w.Launch, w.Launch)
	}
	return 0, 0
}

// Took is the same of what the shop recorded of a boat on one day. A haul-out
// without a lay-up took the hauling alone.
func (y *Yard) Took(b *Boat, services []string) (minutes, lifts int) {
	switch {
	case slices.Contains(services, LayUp):
		minutes, lifts = y.Takes(b, LayUp)
	case slices.Contains(services, ServiceHaul):
		haul := y.workOn(b).Haul
		minutes, lifts = y.limits(haul, haul)
	}
	if slices.Contains(services, FitOut) || slices.Contains(services, ServiceLaunch) {
		m, l := y.Takes(b, FitOut)
		minutes, lifts = minutes+m, lifts+l
	}
	return minutes, lifts
}

// limits drops what the yard does not count. The lift moves a boat if that takes
// any time.
func (y *Yard) limits(minutes, moving int) (crew, lifts int) {
	if y.Crew {
		crew = minutes
	}
	if y.Lifts && moving > 0 {
		lifts = 1
	}
	return crew, lifts
}

// workOn is the block that says most about a boat.
func (y *Yard) workOn(b *Boat) YardWork {
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
	return best
}
