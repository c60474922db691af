package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"sync"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// Settings are the shop's choices that shape every plan.
type Settings struct {
	// Percentile is the chance, 0 to 1, that an hours limit has been reached by
	// the day planned for it: 0.25 sees three boats in four before the limit.
	Percentile float64
	// HorizonDays is how far ahead visits are made, in days.
	HorizonDays int
	// LayUpOilHours is how many hours an engine must have run since its oil,
	// filter or gear lube was changed for them to be changed with the lay-up.
	LayUpOilHours float64
	Yard          Yard
	Format        words.Format   // of the days and figures in reasons
	Texts         *texts.Catalog // the phrases of reasons; nil for the built-in ones
}

// DefaultSettings plan on the 25th percentile, eighteen months ahead, and leave
// oil in over the winter that has run less than ten hours.
func DefaultSettings() Settings {
	return Settings{Percentile: 0.25, HorizonDays: 548, LayUpOilHours: 10}
}

// Planner makes plans from one catalogue and one set of settings. It holds
// nothing about any boat and may be used from several goroutines.
type Planner struct {
	cat  *rules.Catalogue
	rule map[string]*rules.Rule // by code
	set  Settings

	mu      sync.RWMutex
	matched map[Attr]*matched
	seasons map[Place]*forecast.Season
}

// matched is what the catalogue says about components of one Attr.
type matched struct {
	rules []*rules.Rule
	// cover lists, for a service, the further services that doing it on such a
	// component includes, cover upon cover.
	cover map[string][]string
	// overrides are the engine family's, by rule code.
	overrides map[string]rules.FamilyRule
}

// NewPlanner returns a planner for the catalogue.
func NewPlanner(cat *rules.Catalogue, set Settings) *Planner {
	cat = Measured(cat, set.Format)
	p := &Planner{
		cat: cat, set: set, rule: make(map[string]*rules.Rule, len(cat.Rules)),
		matched: make(map[Attr]*matched),
		seasons: make(map[Place]*forecast.Season),
	}
	for i := range cat.Rules {
		if r := &cat.Rules[i]; p.rule[r.Code] == nil {
			p.rule[r.Code] = r
		}
	}
	return p
}

// Measured is the catalogue with temperatures, parts and their prices as a shop
// measures them.
func Measured(cat *rules.Catalogue, f words.Format) *rules.Catalogue {
	return cat.Measured(func(language string, celsius int) string { return f.In(language).Temperature(celsius * 10) }, f.Unit)
}

// Catalogue returns the catalogue the planner works from.
func (p *Planner) Catalogue() *rules.Catalogue { return p.cat }

// Settings returns the planner's settings.
func (p *Planner) Settings() Settings { return p.set }

// match works out which rules apply to an Attr, once.
func (p *Planner) match(a Attr) *matched {
	p.mu.RLock()
	m := p.matched[a]
	p.mu.RUnlock()
	if m != nil {
		return m
	}
	m = &matched{cover: make(map[string][]string)}
	for i := range p.cat.Rules {
		r := &p.cat.Rules[i]
		if r.Matches(a.Kind, a.Get) {
			m.rules = append(m.rules, r)
		}
	}
	if same := p.alike(a.Family, m.rules); same != nil {
		return p.keepMatch(a, same)
	}
	m.rules = slices.Clone(m.rules) // without room to grow: it is kept for as long as the shop is open
	for _, r := range m.rules {
		if found := p.coverClosure(m, r.Service); found != nil {
			m.cover[r.Service] = found
		}
	}
	for i := range p.cat.Families {
		if f := &p.cat.Families[i]; f.Name == a.Family {
			for _, o := range f.Overrides {
				if m.overrides == nil {
					m.overrides = make(map[string]rules.FamilyRule)
				}
				m.overrides[o.Rule] = o
			}
		}
	}
	return p.keepMatch(a, m)
}

// alike is what is kept already of an Attr of the same family and rules, nil for
// nothing: many differ in what no rule asks.
func (p *Planner) alike(family string, of []*rules.Rule) *matched {
	p.mu.RLock()
	defer p.mu.RUnlock()
	for a, m := range p.matched {
		if a.Family == family && slices.Equal(m.rules, of) {
			return m
		}
	}
	return nil
}

func (p *Planner) keepMatch(a Attr, m *matched) *matched {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.matched[a] = m
	return m
}

// attr is what rules select a component of the boat on.
func (b *Boat) attr(c *Component) Attr {
	a := c.Attr
	a.Kind, a.Water, a.Berth, a.BoatKind = c.Kind, b.Water, b.Berth, b.Kind
	return a
}

// Takes reports whether a service can be done on a component of the boat: a
// rule for that service applies to it, or no rule asks for the service at all.
func (p *Planner) Takes(b *Boat, c *Component, service string) bool {
	asks := func(r *rules.Rule) bool { return r.Service == service }
	if r := p.storageRule(b, c); r != nil && asks(r) {
		return true
	}
	return slices.ContainsFunc(p.match(b.attr(c)).rules, asks) ||
		!slices.ContainsFunc(p.cat.Rules, func(r rules.Rule) bool { return asks(&r) })
}

// coverClosure follows covers from one service. The catalogue check reports
// cycles; here a service met twice simply adds nothing.
func (p *Planner) coverClosure(m *matched, service string) []string {
	var found []string
	todo := []string{service}
	for len(todo) > 0 {
		s := todo[0]
		todo = todo[1:]
		for _, r := range m.rules {
			if r.Service != s {
				continue
			}
			for _, c := range r.Covers {
				if c != service && !slices.Contains(found, c) {
					found = append(found, c)
					todo = append(todo, c)
				}
			}
		}
	}
	return found
}

// season returns the running season of a place: from launch to lay-up, or the
// whole year where boats are not laid up.
func (p *Planner) season(pl Place) *forecast.Season {
	key := Place{Launch: pl.Launch, LayUp: pl.LayUp}
	p.mu.RLock()
	s := p.seasons[key]
	p.mu.RUnlock()
	if s != nil {
		return s
	}
	launch, haulOut := pl.Launch, pl.LayUp
	if !pl.Freezes() {
		launch, haulOut = civil.MonthDay{}, civil.MonthDay{}
	}
	s, err := forecast.NewSeason(launch, haulOut, p.cat.MonthProfile)
	if err != nil {
		// A place whose season cannot be read runs all year: more running
		// means earlier work, which is the safe side.
		s, _ = forecast.NewSeason(civil.MonthDay{}, civil.MonthDay{}, [12]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1})
	}
	p.mu.Lock()
	p.seasons[key] = s
	p.mu.Unlock()
	return s
}

// prior returns the usage prior for a kind of boat, or that of kind "other"
// where the catalogue has none for it.
func (p *Planner) prior(kind string) forecast.Prior {
	// Used only with a catalogue that says nothing about usage.
	best := forecast.Prior{MeanHours: 40, Weight: 0.25, OutingHours: 2.5, Yearly: 0.25}
	for _, u := range p.cat.Usage {
		if u.BoatKind == kind || u.BoatKind == "other" {
			best = forecast.Prior{MeanHours: u.MeanHours, Weight: u.Weight, OutingHours: u.OutingHours, Yearly: u.Yearly}
		}
		if u.BoatKind == kind {
			break
		}
	}
	return best
}

// planning is the working state of one boat's plan: the facts in order, with what
// the catalogue says beside each component.
type planning struct {
	p     *Planner
	f     *Facts
	today civil.Day
	comps []component
	recs  []*Record // in order of day, none later than today
	// winters are the boat's winters round today, by year, for winterAround.
	winters []winter
	// fitOutLapsed: the fit-out of this summer was the shop's to do and is over.
	fitOutLapsed bool
	plan         BoatPlan
	included     []included // by index of plan.Items, once they are sorted
}

// component is a component with its rules and its history.
type component struct {
	*Component
	m    *matched
	last []done          // by index of m.rules
	hrs  *forecast.Model // nil for components without a meter
	// faults are readings that could not be used, in words.
	faults []string
}

// done is the last time a rule's work was done.
type done struct {
	rec *Record
	via string // the covering service, "" when done as itself
}

// Plan works out what is due on the boat, when, why and with which visit.
// It is deterministic: equal facts and day give an equal plan. A boat that has
// left our care has an empty one.
func (p *Planner) Plan(f *Facts, today civil.Day) BoatPlan {
	b := &planning{p: p, f: f, today: today}
	if gone := f.Boat.Gone; gone != 0 && gone <= today {
		return b.plan // out of our care: nothing is due any more
	}
	b.arrange()
	b.findLast()
	b.readMeters()
	b.findWinters()
	for i := range b.comps {
		b.dueFor(&b.comps[i])
	}
	b.followUps()
	b.settleUnknown()
	b.dueByEvents()
	b.dueStored()
	b.sortItems()
	b.makeVisits()
	return b.plan
}

// sortItems puts the items in order of due day, then component and rule. Items
// are large, so it is their places that are sorted.
func (b *planning) sortItems() {
	items := b.plan.Items
	at := make([]int, len(items))
	for i := range at {
		at[i] = i
	}
	slices.SortFunc(at, func(i, j int) int {
		x, y := &items[i], &items[j]
		if x.Due != y.Due {
			return cmp.Compare(x.Due, y.Due)
		}
		return cmp.Or(cmp.Compare(x.ComponentID, y.ComponentID), cmp.Compare(x.Rule, y.Rule), cmp.Compare(x.Season, y.Season))
	})
	for i, from := range at { // each cycle of the order, round once
		if from == i {
			continue
		}
		first, k := items[i], i
		for ; at[k] != i; k, at[k] = at[k], k {
			items[k] = items[at[k]]
		}
		items[k], at[k] = first, k
	}
}

// problem notes a fact that could not be used.
func (b *planning) problem(format string, args ...any) {
	b.plan.Problems = append(b.plan.Problems, fmt.Sprintf(format, args...))
}

// arrange adds the hull, copies the boat's attributes to its components, and
// puts components and records in a fixed order.
func (b *planning) arrange() {
	f := b.f
	hull := Component{ID: f.Boat.ID, BoatID: f.Boat.ID, Kind: "hull", Label: "hull"}
	all := make([]Component, 0, len(f.Components)+1)
	all = append(all, hull)
	for _, c := range f.Components {
		if c.ID == hull.ID || c.Kind == "hull" {
			continue
		}
		all = append(all, c)
	}
	rest := all[1:]
	slices.SortFunc(rest, func(x, y Component) int { return cmp.Compare(x.ID, y.ID) })
	b.comps = make([]component, len(all))
	for i := range all {
		c := &all[i]
		c.Attr = f.Boat.attr(c)
		m := b.p.match(c.Attr)
		b.comps[i] = component{Component: c, m: m, last: make([]done, len(m.rules))}
	}
	n := 0
	for i := range b.comps {
		n += len(b.comps[i].m.rules)
	}
	b.plan.Items = make([]DueItem, 0, n+4) // a season rule gives two or three
	b.recs = make([]*Record, 0, len(f.Records))
	for i := range f.Records {
		r := &f.Records[i]
		if r.Day > b.today {
			b.problem("%s recorded for %s, which is still to come: left out until then", r.Service, r.Day)
			continue
		}
		b.recs = append(b.recs, r)
	}
	slices.SortFunc(b.recs, func(x, y *Record) int {
		if x.Day != y.Day {
			return cmp.Compare(x.Day, y.Day)
		}
		return cmp.Compare(x.ID, y.ID)
	})
}

// findLast walks the records in order of day and remembers, for every rule of
// every component, the newest work that satisfies it.
func (b *planning) findLast() {
	for _, rec := range b.recs {
		for ci := range b.comps {
			c := &b.comps[ci]
			if rec.ComponentID != "" && rec.ComponentID != c.ID {
				continue
			}
			b.noteDone(c, rec, rec.Service, "")
			if rec.By == ByElsewhere {
				continue // hearsay covers what was named and no more
			}
			for _, s := range c.m.cover[rec.Service] {
				b.noteDone(c, rec, s, rec.Service)
				// A lay-up of the engine looks after the boat's battery too: a
				// cover reaches the other kinds of component aboard.
				for oi := range b.comps {
					if o := &b.comps[oi]; o.Kind != c.Kind {
						b.noteDone(o, rec, s, rec.Service)
					}
				}
			}
		}
	}
}

// noteDone notes that rec did the service on the component.
func (b *planning) noteDone(c *component, rec *Record, service, via string) {
	for i, r := range c.m.rules {
		if r.Service != service {
			continue
		}
		old := &c.last[i]
		if old.rec != nil && old.rec.Day == rec.Day && old.via == "" {
			continue // done as itself on that day: the better witness
		}
		*old = done{rec: rec, via: via}
	}
}
