package schedule

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// The services that are events: their records ask for work.
const (
	ServiceHaul   = "haul-out"
	ServiceLaunch = "launch"
	ServiceStrike = "strike" // propeller, shaft or drive hit something
)

const (
	// strikeDays is within how many days a strike is seen to, strikeGrace how many
	// more are acceptable. Common practice, no source.
	strikeDays, strikeGrace = 14, 14
)

// seasonEvent is what a season visit does to a boat that we keep: the lay-up
// hauls it out, the fit-out launches it; "" for a boat kept elsewhere.
func (b *Boat) seasonEvent(kind string) string {
	switch {
	case !b.WithUs():
		return ""
	case kind == LayUp:
		return ServiceHaul
	case kind == FitOut:
		return ServiceLaunch
	}
	return ""
}

// WithUs reports whether the shop stores the boat.
func (b *Boat) WithUs() bool {
	return b.Berth == "shop-outside" || b.Berth == "shop-inside" || b.Berth == "shop-heated"
}

// SeasonEvent returns the haul-out or launch that goes with a record, if it is
// of a season visit of ours and the boat is one that we store.
func (b *Boat) SeasonEvent(r *Record) (Record, bool) {
	service := b.seasonEvent(r.Service)
	if service == "" || r.By != ByShop {
		return Record{}, false
	}
	return Record{BoatID: b.ID, Day: r.Day, Service: service, By: ByShop}, true
}

// dueByEvents puts what haul-outs, launches and strikes ask for in the place of
// the interval's items: those of past events, and one for each coming season
// visit in which we haul or launch. It comes last, when all seasons are known.
func (b *planning) dueByEvents() {
	next := b.nextVisitDay()
	for ci := range b.comps {
		c := &b.comps[ci]
		for i, r := range c.m.rules {
			if len(r.After) == 0 {
				continue
			}
			ov := b.overrides(c, r)
			if ov.Skip {
				continue
			}
			it := b.newItem(c, r, ov, c.last[i])
			it.Basis = BasisEvent
			ahead := b.asksAhead(it, c, r)
			past, asked := b.askedSince(it, c, r, next)
			if asked && len(ahead) > 0 && past.StartsFrom != ServiceStrike && ahead[0].Due <= past.Due {
				asked = false // the visit that would answer it asks for itself
			}
			b.plan.Items = slices.DeleteFunc(b.plan.Items, func(o DueItem) bool {
				if o.ComponentID != c.ID || o.Rule != r.Code {
					return false
				}
				if asked && b.before(&o, r, past.Due, next) {
					asked = false // due by its interval before that
				}
				return asked || len(ahead) > 0 && !b.before(&o, r, ahead[0].Due, next)
			})
			if asked {
				b.plan.Items = append(b.plan.Items, past)
			}
			b.plan.Items = append(b.plan.Items, ahead...)
		}
	}
}

// before reports whether an item of a rule does not wait until a day. What has no
// history, or is past its window, is seen on the next visit, and that is no reason
// to look twice. While the boat runs a matter of safety does not wait long.
func (b *planning) before(it *DueItem, r *rules.Rule, day, next civil.Day) bool {
	switch {
	case it.Basis == BasisUnknown:
		return r.Safety && it.Close < day
	case it.Close >= b.today:
		return it.Close < day
	}
	_, laidUp := b.winterAround(b.today)
	return next < day || r.Safety && !laidUp && day > b.today+soonDays+worthWaiting
}

// askedSince is the item for what happened since a rule's work was last done:
// the newest strike, else the newest of the other events; false if nothing did.
func (b *planning) askedSince(it DueItem, c *component, r *rules.Rule, next civil.Day) (DueItem, bool) {
	var ev *Record
	for _, rec := range b.recs {
		if !slices.Contains(r.After, rec.Service) || rec.Day <= it.LastDay || rec.Day < b.f.Boat.SoldOn ||
			rec.ComponentID != "" && rec.ComponentID != c.ID {
			continue
		}
		if ev == nil || rec.Service == ServiceStrike || ev.Service != ServiceStrike {
			ev = rec
		}
	}
	if ev == nil {
		return it, false
	}
	it.StartsFrom, it.ByDate, it.Open = ev.Service, ev.Day, ev.Day
	if ev.Service == ServiceStrike {
		it.Due = ev.Day + strikeDays
		it.Close = it.Due + strikeGrace
	} else {
		it.Due = max(next, ev.Day)
		it.Close = it.Due
	}
	_, it.InWinter = b.winterAround(it.Due)
	return it, true
}

// asksAhead is one item for each coming season visit that does what a rule asks
// to be followed up. What follows both a haul-out and a launch is done afloat, so
// it waits for the launch.
func (b *planning) asksAhead(it DueItem, c *component, r *rules.Rule) []DueItem {
	var items []DueItem
	for i := range b.plan.Items {
		s := &b.plan.Items[i]
		if !b.makesVisit(s) {
			continue
		}
		kind := b.seasonKind(s)
		event := b.f.Boat.seasonEvent(kind)
		switch {
		case !slices.Contains(r.After, event), event == ServiceHaul && slices.Contains(r.After, ServiceLaunch),
			b.eventOf(event, kind, s.Season),
			slices.ContainsFunc(items, func(o DueItem) bool { return o.Season == s.Season }):
			continue
		}
		it := it
		it.StartsFrom, it.Season, it.Due, it.Open, it.Close, it.InWinter = event, s.Season, s.Due, s.Open, s.Close, s.InWinter
		items = append(items, it)
	}
	slices.SortFunc(items, func(x, y DueItem) int { return cmp.Compare(x.Due, y.Due) })
	return items
}

// eventOf reports whether the haul-out or launch of a season is on record.
func (b *planning) eventOf(event, kind string, season int) bool {
	seasonOf := LayUpSeason
	if kind == FitOut {
		seasonOf = FitOutSeason
	}
	return slices.ContainsFunc(b.recs, func(r *Record) bool { return r.Service == event && seasonOf(r.Day) == season })
}

// nextVisitDay is the day of the first visit that is known: a booked one or a
// season's; where there is none, the next 1 April or 1 October.
func (b *planning) nextVisitDay() civil.Day {
	var next civil.Day
	first := func(d civil.Day) {
		if next == 0 || d < next {
			next = d
		}
	}
	for i := range b.plan.Items {
		if it := &b.plan.Items[i]; b.makesVisit(it) {
			first(it.Due)
		}
	}
	for i := range b.f.Bookings {
		if d := b.f.Bookings[i].Day; d >= b.today {
			first(d)
		}
	}
	if next == 0 {
		return b.halfYear()
	}
	return next
}

// ridesOnly reports whether an item makes no visit of its own: what a haul-out
// or a launch asks for.
func ridesOnly(it *DueItem) bool { return it.Basis == BasisEvent && it.StartsFrom != ServiceStrike }

// rideAfterEvent puts an item that only rides along on the visit that hauls or
// launches, else on the next one.
func (b *planning) rideAfterEvent(i int, drafts []*visitDraft) {
	it := &b.plan.Items[i]
	var next *visitDraft
	for _, s := range drafts {
		switch {
		case it.Season != 0:
			if s.season == it.Season && b.f.Boat.seasonEvent(s.kind) == it.StartsFrom {
				next = s
			}
		case b.mayRide(it, s) && b.dayOf(s) >= max(it.ByDate, b.today) && (next == nil || b.dayOf(s) < b.dayOf(next)):
			next = s
		}
	}
	if next != nil {
		b.assign(next, i)
	}
}

// event words what a haul-out, launch or strike asks for.
func (w wording) event(it *DueItem) string {
	switch {
	case it.Season != 0 && it.StartsFrom == ServiceHaul:
		return w.t.Say("reasons.event.haul-out-ahead", "visit", w.theVisit(LayUp))
	case it.Season != 0:
		return w.t.Say("reasons.event.launch-ahead", "visit", w.theVisit(FitOut))
	case it.StartsFrom == ServiceStrike:
		return w.t.Say("reasons.event.strike", "date", w.date(it.ByDate), "due", w.date(it.Due))
	}
	key := "reasons.event." + it.StartsFrom
	if slices.ContainsFunc(w.f.Records, func(r Record) bool {
		return r.Service == it.StartsFrom && r.Day == it.ByDate && r.By == ByElsewhere
	}) {
		key += "-elsewhere"
	}
	return w.t.Say(key, "date", w.date(it.ByDate))
}
