package schedule

import (
	"slices"
	"strings"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// Freeze is a hard freeze at a place: one that a forecast foretells, or one that
// came.
type Freeze struct {
	Night  civil.Day // the day in whose morning its first night ends; none for no freeze
	Tenths int       // the lowest temperature where the boats lie, in tenths of °C
}

// Words says when and how cold: "25°F in the night to Saturday, October 10".
func (f Freeze) Words(in words.Format) string { return f.words(english(), in) }

// When names the night, "the night to Saturday, October 10".
func (f Freeze) When(in words.Format) string { return f.night(english(), in) }

func (f Freeze) words(t *texts.Texts, in words.Format) string {
	return t.Say("reasons.freeze.words", "temperature", in.Temperature(f.Tenths), "night", f.night(t, in))
}

func (f Freeze) night(t *texts.Texts, in words.Format) string {
	return t.Say("reasons.freeze.night", "day", in.On(in.Weekday(f.Night), in.MonthDay(f.Night)))
}

// Danger says what of a boat a freeze breaks, in the order in which it freezes.
type Danger int

// The dangers, the first to freeze first. The order is common practice: a block
// that holds raw water cracks first; a drained outboard and a jet that drains
// have little to lose.
const (
	NoDanger      Danger = iota
	DangerRaw            // raw-water cooled inboards, sterndrives and generators, on land outdoors
	DangerClosed         // the raw-water side of closed cooling on land; raw-water cooled engines in a building without heat
	DangerSystems        // fresh water, head, livewell, ballast on land
	DangerAfloat         // the same afloat, in a very cold night or cold water
	DangerTilted         // outboards that nothing says stand upright
	DangerUpright        // outboards that stand upright, and jets, which drain
)

// A boat afloat is warmed by the water around it: what is in it freezes only in
// a night this cold, in tenths of °C, or when the water is under 4 °C
// ([Place.ColdWater]). From memory.
const afloatFreezes = -70

// Exposure is what a freeze would find on a boat that is not winterized.
type Exposure struct {
	Danger Danger
	Why    string // a sentence
}

// AtRisk says what of a boat a freeze would break; NoDanger where nothing is at
// risk: it is winterized, it is in heated storage, it has left our care, or it
// holds no water. A winterization counts if it was recorded before the night
// and the boat was not commissioned since.
func (p *Planner) AtRisk(f *Facts, today civil.Day, freeze Freeze) Exposure {
	b := &planning{p: p, f: f, today: today}
	if gone := f.Boat.Gone; gone != 0 && gone <= today || freeze.Night == 0 {
		return Exposure{}
	}
	b.arrange()
	b.findLast()
	if season := LayUpSeason(freeze.Night); f.Place.Freezes() && !f.Place.Launch.IsZero() && b.layUpAsked(season) && !b.doneFor(LayUp, season) {
		return Exposure{} // too late to ask for it: the call list asks whether it was done
	}
	return b.exposure(freeze)
}

// exposure is the first thing aboard to freeze.
func (b *planning) exposure(freeze Freeze) Exposure {
	var first Exposure
	for i := range b.comps {
		e := b.exposed(&b.comps[i], freeze)
		if e.Danger != NoDanger && (first.Danger == NoDanger || e.Danger < first.Danger) {
			first = e
		}
	}
	return first
}

// exposed is what a freeze finds on one component.
func (b *planning) exposed(c *component, freeze Freeze) Exposure {
	boat := &b.f.Boat
	if boat.Berth == "shop-heated" || b.winterized(c, freeze.Night) {
		return Exposure{}
	}
	e := b.holdsWater(c)
	if boat.Berth == "shop-inside" && e.Danger == DangerRaw {
		e.Danger = DangerClosed
	}
	if boat.Berth == "own-dock" && e.Danger != NoDanger && e.Danger != DangerTilted {
		if freeze.Tenths > afloatFreezes && !b.f.Place.coldWater(freeze.Night) {
			return Exposure{}
		}
		if e.Danger < DangerAfloat {
			e.Danger = DangerAfloat
		}
	}
	if e.Danger != NoDanger {
		e.Why = e.Why + ", " + keptAt(boat.Berth) + "."
	}
	return e
}

// winterized reports whether a component has nothing to fear from a night: its
// winterization of that season was recorded before it, and the boat was not
// commissioned since. A rule that is skipped on the boat is for something that it
// does not have.
func (b *planning) winterized(c *component, night civil.Day) bool {
	known := false
	for i, r := range c.m.rules {
		if r.Season != LayUp {
			continue
		}
		known = true
		if !b.overrides(c, r).Skip && !b.holds(c.last[i].rec, night) {
			return false
		}
	}
	return known
}

// holds reports whether a winterization still holds on a night.
func (b *planning) holds(r *Record, night civil.Day) bool {
	return r != nil && r.Day < night && LayUpSeason(r.Day) == LayUpSeason(night) &&
		!slices.ContainsFunc(b.recs, func(o *Record) bool { return o.Service == FitOut && o.Day > r.Day && o.Day < night })
}

// holdsWater says what in a component freezes, wherever the boat is kept.
func (b *planning) holdsWater(c *component) Exposure {
	a := &c.Attr
	if a.Fuel == "electric" || a.Propulsion == "electric" || a.Cooling == "air" {
		return Exposure{}
	}
	switch {
	case c.Kind == "generator" && a.Cooling == "closed":
		return Exposure{DangerClosed, "Generator with closed cooling: its raw-water side holds water"}
	case c.Kind == "generator":
		return Exposure{DangerRaw, "Generator: its block and exhaust hold raw water"}
	case c.Kind == "hull":
		return b.plumbing(c)
	case c.Kind != "engine":
		return Exposure{}
	case a.Propulsion == "outboard" && a.Get("kept") == "upright":
		return Exposure{DangerUpright, "Outboard kept upright, which drains; water left in its gearcase freezes"}
	case a.Propulsion == "outboard":
		return Exposure{DangerTilted, "Outboard, and nothing on file says that it stands upright: tilted up, its lower unit holds water"}
	case a.Propulsion == "jet":
		return Exposure{DangerUpright, "Jet drive, which drains out of the water if nothing blocks it"}
	}
	name := "Engine of a kind that is not on file"
	switch a.Propulsion {
	case "inboard":
		name = "Inboard"
	case "sterndrive":
		name = "Sterndrive"
	}
	if a.Cooling == "closed" {
		return Exposure{DangerClosed, name + " with closed cooling: the raw-water side, its heat exchanger and manifolds hold water"}
	}
	if a.Cooling == "" {
		name += ", cooling not on file, taken as raw water"
	} else {
		name += " with raw-water cooling"
	}
	return Exposure{DangerRaw, name + ": block and manifolds hold water"}
}

// plumbing says what of the hull holds water: what the catalog drains at a
// winterization.
func (b *planning) plumbing(c *component) Exposure {
	var what []string
	for _, r := range c.m.rules {
		if r.Season == LayUp && !b.overrides(c, r).Skip {
			what = append(what, plumbingName(r))
		}
	}
	if len(what) == 0 {
		return Exposure{}
	}
	return Exposure{DangerSystems, strings.Join(what, "; ") + ": holds water until drained"}
}

// plumbingName is what a rule drains: its title to the first word of what is
// done to it.
func plumbingName(r *rules.Rule) string {
	for _, verb := range []string{" drained", " blown out", " laid up", " winterized"} {
		if name, _, ok := strings.Cut(r.Title, verb); ok {
			return name
		}
	}
	return r.Title
}

func keptAt(berth string) string {
	switch berth {
	case "own-dock":
		return "afloat"
	case "own-lift":
		return "out of the water on a lift"
	case "trailer-home":
		return "on its trailer"
	case "shop-outside":
		return "in our yard"
	case "shop-inside":
		return "in our building without heat"
	}
	return "place of keeping not on file"
}

// coldWater reports whether on a night the water is usually under 4 °C.
func (p *Place) coldWater(night civil.Day) bool {
	if p.ColdWater.IsZero() {
		return false
	}
	season := LayUpSeason(night)
	from := p.ColdWater.In(season)
	if from < midsummer.In(season) {
		from = p.ColdWater.In(season + 1)
	}
	return night >= from
}

// beforeFreeze is the day by which a winterization is due: the place's, or the
// last one before a freeze that is forecast for a boat that it would break.
func (b *planning) beforeFreeze(due civil.Day, season int) civil.Day {
	if fr := b.f.Place.Freeze; fr.moves(due, season) && b.exposure(fr).Danger != NoDanger {
		return fr.Night - 1
	}
	return due
}

// moves reports whether a freeze brings a season's deadline forward.
func (f Freeze) moves(due civil.Day, season int) bool {
	return f.Night != 0 && f.Night-1 < due && LayUpSeason(f.Night) == season
}

// brought reports whether a deadline is the one that the freeze brought forward.
func (f Freeze) brought(deadline civil.Day) bool { return f.Night != 0 && deadline == f.Night-1 }

// stoodOut reports whether a component stood outdoors with water in it in the
// first hard freeze of a season that the freeze watch had called.
func (b *planning) stoodOut(c *component, season int) bool {
	fr := b.f.Place.StoodOut
	return fr.Night != 0 && fr.Night <= b.today && LayUpSeason(fr.Night) == season && b.f.Boat.SoldOn < fr.Night &&
		b.exposed(c, fr).Danger != NoDanger
}
