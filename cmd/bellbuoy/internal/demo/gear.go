package demo

import (
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// fit adds everything that the hull carries and rules apply to.
func (h *hull) fit() {
	h.fitEngines()
	h.part("BT", "battery", "Starting battery", h.since(), nil)
	if h.kind.name == "cruiser" || h.kind.name == "sail" {
		h.part("BH", "battery", "House battery", h.since(), nil)
	}
	if h.boat.Berth == "trailer-home" || h.kind.name == "personal" && chance(h.rng, 0.7) {
		brakes := pick(h.rng, []string{"none", "drum", "disc"})
		h.part("TR", "trailer", "Trailer", h.since(), func(c *schedule.Component) { c.Attr.Extra = "brakes=" + brakes })
	}
	if h.kind.name == "cruiser" && chance(h.rng, 0.3) {
		h.part("GN", "generator", "Generator", h.since(), func(c *schedule.Component) {
			c.Attr.Fuel, c.Attr.Cooling = h.engines[0].Attr.Fuel, "closed"
		})
	}
	h.fitSafetyGear()
}

// fitSafetyGear adds what wears out by the calendar and by law.
func (h *hull) fitSafetyGear() {
	rng := h.rng
	if h.kind.name != "personal" || chance(rng, 0.5) {
		// The stamp under the bottle gives a year, where somebody read it.
		year := h.today.Year()
		stamp := civil.Of(between(rng, min(year, max(h.boat.Year, year-13)), year), time.January, 1)
		if chance(rng, 0.1) {
			stamp = 0
		}
		h.part("FX", "extinguisher", "Extinguisher", 0, func(c *schedule.Component) { c.Made = stamp })
	}
	if h.boat.Water == "salt" || chance(rng, 0.12) {
		made := dayBetween(rng, h.today.AddMonths(-50), h.today)
		h.part("FL", "flares", "Flares", 0, func(c *schedule.Component) { c.Made, c.Expires = made, made.AddMonths(42) })
	}
	if h.kind.name == "cruiser" {
		made := dayBetween(rng, h.today.AddMonths(-72), h.today)
		h.part("CO", "co-alarm", "Cabin CO alarm", 0, func(c *schedule.Component) { c.Made = made })
	}
	if chance(rng, 0.2) {
		since := dayBetween(rng, h.today.AddMonths(-70), h.today)
		h.part("LJ", "life-jacket", "Inflatable life jackets", since, func(c *schedule.Component) {
			c.Made, c.Attr.Extra = since, "jacket=inflatable"
		})
	}
	if chance(rng, 0.6) {
		expires := civil.Of(h.today.Year()+between(rng, 0, 2), time.December, 31)
		h.part("RG", "registration", "Registration", 0, func(c *schedule.Component) { c.Expires = expires })
	}
}

// part adds one component; more fills in what its kind has beyond the common.
func (h *hull) part(suffix, kind, label string, since civil.Day, more func(*schedule.Component)) *schedule.Component {
	c := schedule.Component{
		ID: h.boat.ID + "-" + suffix, BoatID: h.boat.ID, Kind: kind, Label: label, InService: since,
		Attr: schedule.Attr{Kind: kind, Water: h.boat.Water, Berth: h.boat.Berth, BoatKind: h.boat.Kind},
	}
	if more != nil {
		more(&c)
	}
	h.parts = append(h.parts, c)
	return &h.parts[len(h.parts)-1]
}

// since is the day the boat's own gear went into service, none where nobody
// kept the papers.
func (h *hull) since() civil.Day {
	if chance(h.rng, 0.15) {
		return 0
	}
	return h.newOn
}

func (h *hull) fitEngines() {
	p := weighted(h.rng, h.kind.powers, func(p *power) int { return p.share })
	family := pick(h.rng, p.families)
	labels := []string{"Engine"}
	if h.rng.IntN(100) < p.twins {
		labels = []string{"Port engine", "Starboard engine"}
	}
	duty := 0
	if chance(h.rng, 0.04) { // trolls all day, tows all day
		duty = 50
	}
	repowered := h.since()
	if repowered != 0 && h.today.Year()-h.boat.Year > 18 {
		repowered = dayBetween(h.rng, h.newOn, max(h.newOn, h.met())) // an old hull with a newer engine
	}
	hasMeter := p.fuel != "electric" && h.boat.Year > 1990 && chance(h.rng, 0.95)
	timing := timingOf(h, p)
	for i, label := range labels {
		c := h.part(fmt.Sprintf("E%d", i+1), "engine", label, repowered, func(c *schedule.Component) {
			c.Attr.Propulsion, c.Attr.Stroke, c.Attr.Fuel, c.Attr.Cooling = p.propulsion, p.stroke, p.fuel, p.cooling
			c.Attr.Family, c.Attr.Extra, c.Duty = family, timing, duty
		})
		h.engines = append(h.engines, newEngine(h, *c, hasMeter))
	}
}

// timingOf says how the camshaft is driven, where there is one and the desk
// wrote it down.
func timingOf(h *hull, p *power) string {
	if p.propulsion != "outboard" || p.stroke != "four" || chance(h.rng, 0.3) {
		return ""
	}
	return "timing=" + pick(h.rng, []string{"belt", "chain", "chain"})
}
