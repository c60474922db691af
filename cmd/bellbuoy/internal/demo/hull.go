package demo

import (
	"math/rand/v2"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// hull is one boat while its life is being invented.
type hull struct {
	rng          *rand.Rand
	today, start civil.Day
	number       int
	home         *town
	jobs         []job
	kind         *kind
	model        model
	boat         schedule.Boat
	used         bool      // second-hand when the shop first sold it
	newOn        civil.Day // first day in use
	owners       []owner
	parts        []schedule.Component
	engines      []*engine
	records      []schedule.Record
	readings     []schedule.Reading
	done         map[string]civil.Day // component and service: the last day anybody did it
	seasons      []float64            // how much each season was used, against the average
}

// owner is a person having the hull from a day on.
type owner struct {
	*person
	from, to civil.Day // to is the first day without it, none for the present owner
	soldOn   civil.Day // none for a boat that the shop did not sell
	warranty civil.Day
}

// arrives gives the hull to somebody who bought it elsewhere.
func (h *hull) arrives(who *person, day civil.Day) {
	h.age(day, true)
	h.owners = []owner{{person: who, from: day}}
}

// sold is the shop's first sale of the hull.
func (h *hull) sold(who *person, day civil.Day) {
	h.age(day, chance(h.rng, 0.68))
	o := owner{person: who, from: day, soldOn: day}
	if h.used {
		o.warranty = h.usedWarranty(day)
	} else {
		o.warranty = day.AddMonths(36) - 1
	}
	h.owners = []owner{o}
}

// tradedIn ends the present ownership and begins the next with the resale. In
// between the hull stands in the yard and is reconditioned.
func (h *hull) tradedIn(day civil.Day, next *person, resold civil.Day) {
	h.owners[len(h.owners)-1].to = day
	h.owners = append(h.owners, owner{person: next, from: resold, soldOn: resold, warranty: h.usedWarranty(resold)})
}

// usedWarranty is the last day of the short engine warranty on a used boat.
func (h *hull) usedWarranty(sold civil.Day) civil.Day {
	return sold.AddMonths(pick(h.rng, []int{3, 6, 6, 12})) - 1
}

// age sets model year and first day in use from the day the shop first met the
// hull, and with them its identification number.
func (h *hull) age(met civil.Day, used bool) {
	h.used = used
	h.newOn = met
	h.boat.Year = met.Year()
	switch {
	case used:
		h.boat.Year = max(met.Year()-1-int(gamma(h.rng, 9, 1.5)), 1976)
		h.newOn = civil.Of(h.boat.Year, time.May, between(h.rng, 1, 31))
	case met.Month() >= time.August:
		h.boat.Year++
	}
	h.boat.HIN = asWritten(h.rng, hin(h.rng, h.model.mic, h.number, h.boat.Year))
}

// met is the first day on which the shop had to do with the hull.
func (h *hull) met() civil.Day { return h.owners[0].from }

// ownerOn finds who has the hull on a day, nil while it is the shop's own.
func (h *hull) ownerOn(day civil.Day) *owner {
	for i := range h.owners {
		if o := &h.owners[i]; day >= o.from && (o.to == 0 || day < o.to) {
			return o
		}
	}
	return nil
}

// live runs the hull's years and adds it to the part.
func (h *hull) live(part *Shop) {
	h.done = map[string]civil.Day{}
	h.drawSeasons()
	h.fit()
	for _, s := range h.stops() {
		h.run(s.day)
		h.stop(s)
	}
	part.Boats = append(part.Boats, h.lines()...)
	part.Components = append(part.Components, h.parts...)
	part.Records = append(part.Records, h.records...)
	part.Readings = append(part.Readings, h.readings...)
}

// lines are the hull's lines in boats.csv. The last owner's is the boat as it
// is now; earlier ones called it something else.
func (h *hull) lines() []BoatLine {
	var lines []BoatLine
	for i, o := range h.owners {
		line := BoatLine{Boat: h.boat, CustomerID: o.id}
		line.SoldOn, line.WarrantyUntil = o.soldOn, o.warranty
		last := i == len(h.owners)-1
		if !last {
			line.Name = pick(h.rng, boatNames)
		}
		lines = append(lines, line)
		if !last {
			line.CustomerID, line.SoldOn, line.WarrantyUntil = "", o.to, 0
			lines = append(lines, line)
		}
	}
	return lines
}
