package demo

import (
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// job is a piece of work that the demo shop does again and again.
type job struct {
	service string
	on      []occasion
	seasons int     // done about every so many seasons
	share   float64 // of the times it is due, how often the shop gets to it
	cents   int64   // an ordinary price, labour and parts: invented
	fits    func(c *schedule.Component) bool
}

var (
	season = []occasion{layUp, yearly}
	spring = []occasion{fitOut, yearly}
	either = []occasion{layUp, fitOut, yearly}
)

func isEngine(c *schedule.Component) bool { return c.Kind == "engine" }

func burns(c *schedule.Component) bool { return isEngine(c) && c.Attr.Fuel != "electric" }

func gasoline(c *schedule.Component) bool { return isEngine(c) && c.Attr.Fuel == "gasoline" }

func fourStroke(c *schedule.Component) bool { return burns(c) && c.Attr.Stroke == "four" }

func isOutboard(c *schedule.Component) bool { return isEngine(c) && c.Attr.Propulsion == "outboard" }

func isSterndrive(c *schedule.Component) bool {
	return isEngine(c) && c.Attr.Propulsion == "sterndrive"
}

func isInboard(c *schedule.Component) bool { return isEngine(c) && c.Attr.Propulsion == "inboard" }

func isDiesel(c *schedule.Component) bool { return isEngine(c) && c.Attr.Fuel == "diesel" }

// hasImpeller names the engines whose pump impeller is a job of its own; on
// the others it comes with the seawater pump.
func hasImpeller(c *schedule.Component) bool {
	return isOutboard(c) || isInboard(c) && isDiesel(c)
}

func hasSeawaterPump(c *schedule.Component) bool {
	return isSterndrive(c) || isInboard(c) && !isDiesel(c)
}

func closedCooling(c *schedule.Component) bool { return burns(c) && c.Attr.Cooling == "closed" }

func ofKind(kind string) func(*schedule.Component) bool {
	return func(c *schedule.Component) bool { return c.Kind == kind }
}

// jobs is what the demo shop does, in the order of its invoices.
func jobs() []job {
	return []job{
		{"annual-inspection", season, 1, 0.9, 8500, isEngine},
		{"engine-oil", season, 1, 0.97, 11900, fourStroke},
		{"oil-filter", season, 1, 0.97, 3400, fourStroke},
		{"gear-lube", season, 1, 0.93, 7900, isOutboard},
		{"drive-lube", season, 1, 0.93, 10900, isSterndrive},
		{"fuel-filter", season, 1, 0.97, 6400, burns},
		{"grease", season, 1, 0.95, 3900, burns},
		{"impeller", either, 3, 0.95, 22900, hasImpeller},
		{"seawater-pump", either, 3, 0.95, 24900, hasSeawaterPump},
		{"spark-plugs", spring, 3, 0.95, 9900, gasoline},
		{"anodes", season, 1, 0.95, 6900, burns},
		{"impeller-check", spring, 1, 0.75, 2900, isOutboard},
		{"spark-plugs-check", spring, 1, 0.75, 4200, func(c *schedule.Component) bool { return isOutboard(c) && c.Attr.Stroke == "four" }},
		{"thermostat", spring, 1, 0.7, 3500, func(c *schedule.Component) bool { return isOutboard(c) && gasoline(c) }},
		{"valve-clearance", season, 3, 0.9, 24900, func(c *schedule.Component) bool { return isOutboard(c) && c.Attr.Stroke == "four" }},
		{"coolant", season, 2, 0.95, 18900, closedCooling},
		{"bellows", season, 2, 0.9, 48900, isSterndrive},
		{"timing-belt", spring, 5, 0.9, 52900, func(c *schedule.Component) bool { return c.Attr.Get("timing") == "belt" }},
		{"battery-test", spring, 1, 0.95, 2900, ofKind("battery")},
		{"battery", spring, 5, 0.9, 21900, ofKind("battery")},
		{"trailer-check", spring, 1, 0.95, 5500, ofKind("trailer")},
		{"trailer-bearings", spring, 1, 0.95, 17900, ofKind("trailer")},
		{"trailer-brakes", spring, 1, 0.95, 12500, func(c *schedule.Component) bool { return c.Kind == "trailer" && c.Attr.Get("brakes") != "" }},
		{"timing-check", spring, 5, 0.9, 7500, fourStroke},
		{"three-year-inspection", spring, 3, 0.9, 18900, func(c *schedule.Component) bool { return burns(c) && !isOutboard(c) && !isDiesel(c) }},
		{"trailer-tyres", spring, 6, 0.95, 42000, ofKind("trailer")},
		{"life-jacket-check", spring, 1, 0.95, 2500, ofKind("life-jacket")},
		{"extinguisher-check", spring, 1, 0.97, 0, ofKind("extinguisher")},
		{"generator-lay-up", []occasion{layUp}, 1, 0.95, 9500, ofKind("generator")},
		{"generator-oil", season, 1, 0.9, 11900, ofKind("generator")},
	}
}

// readying is the work on every used boat before it is sold.
var readying = []string{"engine-oil", "oil-filter", "gear-lube", "drive-lube", "fuel-filter", "spark-plugs", "impeller", "seawater-pump"}

// lead is the line that names the visit itself. It belongs to the whole boat.
func lead(why occasion) (service string, cents int64) {
	switch why {
	case recondition:
		return "reconditioning", 0
	case layUp:
		return "lay-up", 34500
	case fitOut:
		return "fit-out", 28500
	case warrantyCheck:
		return "warranty-check", 0
	case repair:
		return "repair", 31000
	}
	return "", 0
}

var notes = []string{
	"Lube milky, seal kit recommended", "Owner asks for a call before any extra work", "Prop dinged, \"still good for a season\"",
	"Cover torn at the bow, zip stiff", "Bilge pump float sticks", "Bränsleslang sprucken, utbytt", "Key no. 14, dock side",
}

// work writes down what was done on one occasion.
func (h *hull) work(s stop, by string) {
	if service, cents := lead(s.why); service != "" {
		h.record(s.day, nil, service, cents, by)
	}
	if s.why == layUp && (h.kind.name == "cruiser" || h.kind.name == "sail") {
		h.record(s.day, nil, "water-system-lay-up", 16500, by)
	}
	if s.why == repair && chance(h.rng, 0.5) {
		h.record(s.day, nil, "diagnostics", 14500, by)
	}
	for i := range h.parts {
		c := &h.parts[i]
		if s.why == recondition && burns(c) {
			h.record(s.day, c, "diagnostics", 14500, by)
			h.record(s.day, c, "compression-test", 9500, by)
		}
		for _, j := range h.jobs {
			if j.fits(c) && h.wants(s, c, &j) {
				h.record(s.day, c, j.service, j.cents, by)
				h.done[c.ID+"/"+j.service] = s.day
			}
		}
	}
	switch {
	case s.why == fitOut && chance(h.rng, 0.85):
		h.record(s.day, nil, "hull-check", 5500, by)
	case s.why == layUp && by == schedule.ByShop:
		h.store(s.day)
	}
}

// wants decides whether a job is done on the occasion.
func (h *hull) wants(s stop, c *schedule.Component, j *job) bool {
	if s.why == recondition {
		return slices.Contains(readying, j.service)
	}
	if !slices.Contains(j.on, s.why) {
		return false
	}
	// A job that nobody remembers was done some time before.
	due := chance(h.rng, max(0.7, 1/float64(j.seasons)))
	if last, known := h.done[c.ID+"/"+j.service]; known {
		due = s.day-last > civil.Day(365*j.seasons-150)
	}
	return due && chance(h.rng, j.share)
}

// store bills the winter's storage to those who leave the boat with the shop.
func (h *hull) store(day civil.Day) {
	feet := int64(h.boat.LengthFt)
	switch h.boat.Berth {
	case "shop-outside":
		h.record(day, nil, "storage-outside", 1800*feet, schedule.ByShop)
	case "shop-inside":
		h.record(day, nil, "storage-inside", 3600*feet, schedule.ByShop)
	case "shop-heated":
		h.record(day, nil, "storage-heated", 5800*feet, schedule.ByShop)
	}
}

// record writes one line of history. A line for the whole boat has no
// component and no hours.
func (h *hull) record(day civil.Day, c *schedule.Component, service string, cents int64, by string) {
	r := schedule.Record{BoatID: h.boat.ID, Day: day, Service: service, By: by}
	if by == schedule.ByShop && cents > 0 {
		// Prices move about; the till rounds to a quarter.
		cents = int64(float64(cents)*(0.85+0.35*h.rng.Float64())) / 25 * 25
		r.Amount = schedule.Cents(cents)
	}
	if c != nil {
		r.ComponentID = c.ID
		for _, e := range h.engines {
			if e.ID == c.ID && e.readOn == day {
				r.Hours, r.HasHours = e.shown, true
			}
		}
	}
	if chance(h.rng, 0.02) {
		r.Note = pick(h.rng, notes)
	}
	h.records = append(h.records, r)
}
