package schedule

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"slices"

	"bellbuoy/schedule/civil"
)

// finish turns the drafts into visits.
func (b *planning) finish(drafts []*visitDraft) {
	taken := make(map[string]bool)
	lapsed := b.lapsed()
	for _, s := range drafts {
		slices.Sort(s.items)
		b.markCovered(s.items)
		v := Visit{
			BoatID: b.f.Boat.ID, Kind: s.kind, Season: s.season,
			Open: s.window.from, Close: s.window.to, Day: s.window.nearest(s.wish),
			Deadline: s.window.to, Booking: s.booking, Lapsed: lapsed && s.booking == nil,
			Items: make([]string, 0, len(s.items)),
		}
		if v.Day < b.today && s.booking == nil {
			v.Day = b.today
		}
		switch s.kind {
		case Extra:
			v.Last = b.beforeWinter(max(v.Open, b.today))
		case FitOut:
			v.Last = b.f.Place.halfSummer(s.season)
		case Winter:
			v.Last = s.window.to
		}
		for _, i := range s.items {
			it := &b.plan.Items[i]
			v.Items = append(v.Items, it.Key())
			if s.kind != Winter && (s.kind == Extra || it.Basis == BasisSeason || it.Close >= max(v.Open, b.today)) && !slices.Contains(s.anyway, i) {
				// What is late already cannot set a season visit's deadline.
				v.Deadline = min(v.Deadline, it.Close)
			}
			if s.late && it.Close >= b.today {
				v.Close = min(v.Close, max(it.Close, v.Open))
			}
			if b.forWarranty(it) && (v.Last == 0 || v.Last > it.ByDate) {
				v.Last = it.ByDate
			}
			if it.CoveredBy == "" {
				v.Labour += it.Labour
				v.Price += it.Price
			}
		}
		if len(s.items) > 0 {
			v.Yard, v.Lifts = b.p.set.Yard.Takes(&b.f.Boat, v.Kind)
		}
		v.Priority = b.priority(&v)
		v.ID = b.visitID(&v, s, taken)
		taken[v.ID] = true
		for _, i := range s.items {
			b.plan.Items[i].VisitID = v.ID
		}
		b.inherit(&v)
		b.plan.Visits = append(b.plan.Visits, v)
	}
	slices.SortFunc(b.plan.Visits, func(x, y Visit) int { return cmp.Or(cmp.Compare(x.Day, y.Day), cmp.Compare(x.ID, y.ID)) })
}

// lapsedAfter is how long, in days, a boat counts on after its last sign where boats
// are not winterized: a season and a half. Common practice, no source.
const lapsedAfter = 548

// keptSince is the day since which there must be a sign of a boat if it is not to
// be a lapsed one: the winterization deadline before the last. A deadline has passed
// when its winterization is asked about instead of planned ([askAfterDeadline]).
func (p *Place) keptSince(today civil.Day) civil.Day {
	if !p.Freezes() || p.Launch.IsZero() {
		return today - lapsedAfter
	}
	y := today.Year()
	for today <= p.LayUpDay(y)+askAfterDeadline {
		y--
	}
	return p.LayUpDay(y - 1)
}

// lapsed reports whether the shop has lost touch with the boat: no sale, record,
// reply, booking or reading, and no new owner, for so long. A boat of which nothing
// at all is on file was just entered.
func (b *planning) lapsed() bool {
	seen := max(b.f.Boat.SoldOn, b.f.LastContact)
	if n := len(b.recs); n > 0 {
		seen = max(seen, b.recs[n-1].Day)
	}
	for i := range b.f.Readings {
		seen = max(seen, b.f.Readings[i].Day)
	}
	for i := range b.f.Bookings {
		seen = max(seen, b.f.Bookings[i].Day)
	}
	return seen != 0 && seen < b.f.Place.keptSince(b.today)
}

// markCovered finds the items of one visit that another one includes: one that
// nothing includes in turn, so that a look at the pump is part of the
// winterization and not of the inspection that is part of it.
func (b *planning) markCovered(items []int) {
	for _, i := range items {
		if len(b.included[i].services) == 0 || b.coveredBy(items, i) {
			continue
		}
		for _, j := range items {
			if b.covers(i, j) {
				b.plan.Items[j].CoveredBy = b.plan.Items[i].Service
			}
		}
	}
}

// included is what doing an item of the plan includes.
type included struct {
	on       *component // nil for what is no longer aboard
	services []string
}

// findIncluded looks up, once for each item, what doing it includes: visits ask
// for nearly every pair of items.
func (b *planning) findIncluded() {
	b.included = make([]included, len(b.plan.Items))
	for i := range b.plan.Items {
		it := &b.plan.Items[i]
		if c := b.component(it.ComponentID); c != nil {
			b.included[i] = included{c, c.m.cover[it.Service]}
		}
	}
}

// covers reports whether the shop's doing item i includes item j: of the same
// component, or of another kind of component aboard.
func (b *planning) covers(i, j int) bool {
	in := &b.included[i]
	if len(in.services) == 0 || i == j || !slices.Contains(in.services, b.plan.Items[j].Service) { // nearly all pairs
		return false
	}
	c := b.included[j].on
	return c != nil && (in.on == c || in.on.Kind != c.Kind) && !b.onlyLooked(&b.plan.Items[i])
}

// coveredBy reports whether one of some items includes item i.
func (b *planning) coveredBy(items []int, i int) bool {
	return slices.ContainsFunc(items, func(k int) bool { return b.covers(k, i) })
}

// onlyLooked reports whether an item without a history is but a look at what
// else would be done: a look includes nothing.
func (b *planning) onlyLooked(it *DueItem) bool {
	r, ok := b.p.rule[it.Rule]
	return ok && it.Basis == BasisUnknown && (it.Labour < r.Labour || it.Price < r.Price)
}

func (b *planning) component(id string) *component {
	for i := range b.comps {
		if b.comps[i].ID == id {
			return &b.comps[i]
		}
	}
	return nil
}

// PriorityRawOutdoors is the priority of the lay-up that goes before all others
// when the weeks are short: water left in a block that freezes cracks it, so
// boats with raw water in them and no roof go first.
const PriorityRawOutdoors = 90

// The other priorities.
const (
	priorityOutdoors = 70
	priorityLimit    = 60 // an item past its window
	priorityIndoors  = 50
	priorityFitOut   = 40
	priorityHeated   = 30
	priorityExtra    = 20
)

func (b *planning) priority(v *Visit) int {
	switch v.Kind {
	case LayUp:
		switch b.f.Boat.Berth {
		case "shop-heated":
			return priorityHeated
		case "shop-inside":
			return priorityIndoors
		}
		for i := range b.comps {
			if b.comps[i].Attr.Cooling == "raw-water" {
				return PriorityRawOutdoors
			}
		}
		return priorityOutdoors
	case FitOut:
		return priorityFitOut
	}
	if v.Deadline < b.today {
		return priorityLimit
	}
	return priorityExtra
}

// visitID names a visit. A season visit is named by boat, kind and year. An
// extra one keeps the name of the earlier plan's visit that shares most of its
// items, so that what a customer was told stays attached to it; a new one is
// named after its first item.
func (b *planning) visitID(v *Visit, s *visitDraft, taken map[string]bool) string {
	if s.booking != nil {
		return s.booking.VisitID
	}
	if s.kind != Extra {
		return b.seasonID(s.kind, s.season)
	}
	best, shared := "", 0
	for i := range b.f.Prior {
		o := &b.f.Prior[i]
		if o.Kind != Extra || taken[o.ID] || b.booking(o.ID) != nil {
			continue
		}
		n := 0
		for _, k := range o.Items {
			if slices.Contains(v.Items, k) {
				n++
			}
		}
		if n > shared {
			best, shared = o.ID, n
		}
	}
	if best != "" {
		return best
	}
	// A name that a booking has is that of another visit, and so is one that is taken.
	for name := v.Items[0]; ; name += "+" {
		h := fnv.New32a()
		h.Write([]byte(name))
		if id := fmt.Sprintf("%s.%s.%08x", b.f.Boat.ID, Extra, h.Sum32()); !taken[id] && b.booking(id) == nil {
			return id
		}
	}
}

// inherit keeps the week that the visit was pencilled for, and the day on which
// it was to come and nothing was recorded.
func (b *planning) inherit(v *Visit) {
	for i := range b.f.Prior {
		if o := &b.f.Prior[i]; o.ID == v.ID {
			if v.Booking == nil {
				v.Missed = o.Missed
			}
			if v.Booking == nil && !v.Lapsed {
				v.Week, v.WeekWhy, v.Told = o.Week, o.WeekWhy, o.Told
			}
			return
		}
	}
}
