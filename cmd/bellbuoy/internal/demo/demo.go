// Package demo invents a boat dealer's shop: customers, boats, what is bolted
// to them, and years of what was done to them, as the five files that a real
// shop would hand over.
//
// It decides nothing about maintenance and never touches a database, the clock
// or the network: a random source and a day go in, the same shop comes out to
// the byte. The demo command, the harnesses and the tests call it. Everybody
// and everything in it is fictional: people, places, makes and figures. The
// mail domains and the telephone numbers belong to nobody.
package demo

import (
	_ "embed"
	"iter"
	"math/rand/v2"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// Rules is the invented shop's own rules file: what it pays for parts.
//
//go:embed rules.toml
var Rules []byte

// BoatLine is one line of boats.csv: a hull as one of its owners has it. A
// hull that was traded in and sold again has three, in order of day: the first
// owner, nobody from the day on which the shop took it back, the next owner,
// who may name and keep the boat differently.
type BoatLine struct {
	schedule.Boat
	CustomerID string // "" while the boat is the shop's own
}

// Shop is an invented shop, or a part of one that refers to nothing outside
// itself. Readings and records are in order of day within each boat.
type Shop struct {
	Customers  []schedule.Customer
	Boats      []BoatLine
	Components []schedule.Component // without the hulls, as in components.csv
	Records    []schedule.Record    // without IDs, which the intake gives
	Readings   []schedule.Reading
}

// Parts invents a shop: that many hulls, with history from that many years (at
// least one) before today until today, about ten records a hull for the first year
// and seven for each further one. The same source, day and size give the same shop.
// It comes one household at a time, so that a fleet of any size needs no more memory
// than a household. A part holds the
// household's hulls and, where one of them replaced a boat that was traded in,
// that boat and the people who bought it.
func Parts(rng *rand.Rand, today civil.Day, boats, years int) iter.Seq[*Shop] {
	return func(yield func(*Shop) bool) {
		b := &builder{today: today, start: today.AddMonths(-12 * years), left: boats, towns: towns(), kinds: kinds(), jobs: jobs()}
		for b.left > 0 {
			// Each household has its own source: what one does with its numbers
			// never changes the next.
			b.rng = rand.New(rand.NewPCG(rng.Uint64(), rng.Uint64()))
			if !yield(b.household()) {
				return
			}
		}
	}
}
