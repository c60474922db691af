package schedule

import (
	"slices"

	"bellbuoy/schedule/civil"
)

// bestRide picks the visit that an item rides along with, nil if it needs one
// of its own. Of the visits in its window the one that costs least wins: days
// of life wasted by being early, or days late while the boat is running. Days
// late in winter cost nothing, as nothing wears then; so an item that falls due
// in January waits for the fit-out if its grace lasts that long.
func (b *planning) bestRide(it *DueItem, drafts []*visitDraft) *visitDraft {
	w := b.window(it)
	switch {
	case b.canWait(it) && b.fitOutLapsed:
		w.to = max(w.to+worthWaiting, b.f.Place.LayUpDay(b.today.Year()))
	case b.canWait(it):
		w.to += worthWaiting
	}
	ride := func(may func(*DueItem, *visitDraft) bool) *visitDraft {
		var best *visitDraft
		bestCost := 0
		for _, s := range drafts {
			if !may(it, s) {
				continue
			}
			joint, ok := b.joint(it, w, s)
			if !ok {
				continue
			}
			cost := b.cost(it, joint.nearest(s.wish))
			if best == nil || cost < bestCost {
				best, bestCost = s, cost
			}
		}
		return best
	}
	s := ride(b.mayRide)
	if s == nil {
		s = b.winterRide(it, w, drafts)
	}
	if s == nil {
		// Better with a season visit that is not its own than with a visit more.
		s = ride(b.mayShare)
	}
	if s == nil {
		s = b.ownKind(it, drafts)
	}
	return s
}

// joint is the days that suit both an item with window w and a visit; false if
// they leave the visit too few to level in, or cut the summer short. A visit that
// is late, or whose own days are as few, has no room to lose.
func (b *planning) joint(it *DueItem, w span, s *visitDraft) (span, bool) {
	if s.booking != nil && b.carried(s, it) && (s.kind == Extra || !b.forWarranty(it) || s.booking.Day <= it.ByDate) {
		return s.window, true // it was promised for that booked day
	}
	if s.booking != nil && s.booking.Day < b.today {
		return span{}, false // the boat will not come in on that day any more
	}
	open := b.stillOpen(s)
	joint := w.and(open)
	switch {
	case joint.empty():
		return joint, false
	case s.late || open.days() <= roomToLevel:
		return joint, true
	case joint != open && joint.days() < roomToLevel:
		return joint, false
	case s.kind == LayUp && s.booking == nil && it.Close >= b.today && joint.to < b.f.Place.LayUpDay(s.season)-seasonCut:
		return joint, false
	}
	return joint, true
}

// stillOpen is what is left of a visit's days: what is past of them is no room
// to level in.
func (b *planning) stillOpen(s *visitDraft) span {
	return s.window.and(span{b.today.Week().Monday(), s.window.to})
}

// canWait reports whether an item past its window may wait for a season visit a
// little further off: hours run on, the law does not wait, and a finding is to
// be looked at again when somebody said so. Who did not come for a whole spring
// is not invited again for what was to be done then: all but a finding waits.
func (b *planning) canWait(it *DueItem) bool {
	if it.Close >= b.today || b.forWarranty(it) {
		return false
	}
	return it.Basis == BasisDate || it.Basis == BasisUnknown || b.fitOutLapsed && it.Basis != BasisOnce
}

// mayRide asks the item's rule whether it rides with that kind of visit. What is
// late already is better done with another visit than with one of its own.
func (b *planning) mayRide(it *DueItem, s *visitDraft) bool {
	r, ok := b.p.rule[it.Rule]
	return !ok || slices.Contains(r.RideAlong, s.kind) || it.Basis == BasisSeason || b.canWait(it) && slices.Contains(r.RideAlong, Extra)
}

// ownKind returns the visit that an item waits for whose rule wants no visit of
// its own, the nearest of its kinds to its day; nil if it may have one.
func (b *planning) ownKind(it *DueItem, drafts []*visitDraft) *visitDraft {
	r, ok := b.p.rule[it.Rule]
	if !ok || slices.Contains(r.RideAlong, Extra) {
		return nil
	}
	var best *visitDraft
	for _, s := range drafts {
		if slices.Contains(r.RideAlong, s.kind) && (best == nil || b.cost(it, b.dayOf(s)) < b.cost(it, b.dayOf(best))) {
			best = s
		}
	}
	return best
}

// mayShare reports whether an item that would otherwise get a visit of its own
// may go with a season visit instead, though its rule asks for another one.
func (b *planning) mayShare(it *DueItem, s *visitDraft) bool {
	r, ok := b.p.rule[it.Rule]
	return ok && s.kind != Extra && slices.Contains(r.RideAlong, Extra)
}

// carried reports whether the plan before had the item in this booked visit.
func (b *planning) carried(s *visitDraft, it *DueItem) bool {
	for i := range b.f.Prior {
		if v := &b.f.Prior[i]; v.ID == s.booking.VisitID {
			return slices.Contains(v.Items, it.Key())
		}
	}
	return false
}

// cost is what doing an item on a day loses, in days.
func (b *planning) cost(it *DueItem, day civil.Day) int {
	if day <= it.Due {
		return int(it.Due - day)
	}
	late := int(day - it.Due)
	if w, ok := b.winterAround(it.Due); ok {
		late = max(0, int(day-w.to))
	}
	return late
}

// winterRide places an item whose remaining window lies in the boat's winter,
// but for a few days before it perhaps that would leave no room to level in: with the lay-up before if that is still to come, else with the
// fit-out after, late though that may be.
func (b *planning) winterRide(it *DueItem, w span, drafts []*visitDraft) *visitDraft {
	w.from = max(w.from, b.today)
	win, ends := b.winterAround(w.to)
	if out := b.outsideWinter(w); !out.empty() && (!ends || out.days() >= roomToLevel) {
		return nil
	}
	var before, after *visitDraft
	for _, s := range drafts {
		switch {
		case !b.mayRide(it, s) || b.forWarranty(it) && b.dayOf(s) > it.ByDate:
		case s.kind == LayUp && s.wish < win.to && s.window.to >= b.today && s.wish >= win.from-1-civil.Day(365/2):
			before = s
		case s.kind == FitOut && s.wish >= win.from && (after == nil || s.wish < after.wish):
			after = s
		}
	}
	if before != nil {
		return before
	}
	return after
}

// outsideWinter returns the part of a span that lies outside the boat's
// winters; of several the first that is not past.
func (b *planning) outsideWinter(w span) span {
	if win, ok := b.winterAround(w.from); ok {
		w.from = win.to
	}
	for d := w.from; d <= w.to; d += 7 {
		win, ok := b.winterAround(d)
		if ok && win.from > b.today {
			w.to = win.from - 1
			break
		}
		if ok {
			w.from, d = win.to, win.to-7
		}
	}
	if win, ok := b.winterAround(w.to); ok && !w.empty() {
		w.to = win.from - 1
	}
	return w
}
