package schedule

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

const (
	// roomToLevel is the least width, in days, that a season visit's window
	// keeps when an item joins it: two shop weeks to level the load over.
	roomToLevel = 14
	// seasonCut is by how much, in days, a lay-up may come sooner for the sake of
	// another job: the summer is what the boat is for.
	seasonCut = 14
	// worthWaiting is how much longer than usual, in days, an ordinary job that
	// is late already waits for a season visit before it asks for one of its own.
	worthWaiting = 32
	// heatedLater is how long after the others' last day, in days, the lay-up of a
	// boat in heated storage is best done: past the rush, well before the spring.
	heatedLater = 42
	// soonDays is how far ahead, in days, an item past its window is planned.
	soonDays = 27
	// settledShare keeps extra visits out of the last half year of the horizon,
	// where a season visit that could carry them is not yet in sight.
	settledDays = 183
)

// span is a run of days, both ends included; empty when to < from.
type span struct{ from, to civil.Day }

func (s span) and(o span) span               { return span{max(s.from, o.from), min(s.to, o.to)} }
func (s span) empty() bool                   { return s.to < s.from }
func (s span) days() int                     { return int(s.to-s.from) + 1 }
func (s span) has(d civil.Day) bool          { return s.from <= d && d <= s.to }
func (s span) nearest(d civil.Day) civil.Day { return min(max(d, s.from), s.to) }

// visitDraft is a visit while it is being put together.
type visitDraft struct {
	kind    string
	season  int
	window  span
	wish    civil.Day // the day it would have by itself
	late    bool      // a season visit past its time: it comes in as soon as it can
	booking *Booking
	items   []int // indexes into plan.Items
	anyway  []int // those that come along whenever the visit is
}

// makeVisits groups the items into visits: the season visits are given, other
// items ride along where they can, and what is left gets the fewest extra
// visits that hit every window.
func (b *planning) makeVisits() {
	b.findIncluded()
	drafts := b.seasonDrafts()
	drafts = append(drafts, b.bookedExtras()...)
	var left, riding, alone []int
	for i := range b.plan.Items {
		it := &b.plan.Items[i]
		if b.makesVisit(it) || it.ByCustomer || it.Basis == BasisAsk || it.Basis == BasisDropped || it.Basis == BasisStored || it.Open > b.today+civil.Day(b.p.set.HorizonDays) {
			continue
		}
		if b.alone(it) {
			alone = append(alone, i)
		} else if ridesOnly(it) {
			riding = append(riding, i)
		} else if s := b.includedIn(i, drafts); s != nil {
			s.items = append(s.items, i) // part of other work, it asks for no days of its own
		} else if s := b.protectingLayUp(it, drafts); s != nil {
			s.items = append(s.items, i)
		} else if s := b.bestRide(it, drafts); s != nil {
			b.assign(s, i)
		} else if s := b.lapsedRide(it, drafts); s != nil {
			s.items, s.anyway = append(s.items, i), append(s.anyway, i)
		} else {
			left = append(left, i)
		}
	}
	drafts = append(drafts, b.coverWindows(left)...)
	drafts = b.aloneVisits(alone, drafts)
	for _, i := range riding {
		b.rideAfterEvent(i, drafts)
	}
	b.resetIncluded(drafts)
	b.finish(b.keepBooked(b.winterWork(drafts)))
}

// alone reports whether an item is a job that somebody asked for on a visit of its
// own.
func (b *planning) alone(it *DueItem) bool {
	return slices.ContainsFunc(b.f.FollowUps, func(fu FollowUp) bool { return fu.Alone && it.IsFollowUp(fu.ID) })
}

// aloneVisits gives each of these items its booked visit, or one of its own about
// the day that was asked for, in winter too.
func (b *planning) aloneVisits(items []int, drafts []*visitDraft) []*visitDraft {
	for _, i := range items {
		it := &b.plan.Items[i]
		k := slices.IndexFunc(drafts, func(s *visitDraft) bool { return s.kind == Extra && s.booking != nil && b.carried(s, it) })
		if k >= 0 {
			b.assign(drafts[k], i)
			continue
		}
		from := max(it.Due, b.today)
		drafts = append(drafts, &visitDraft{kind: Extra, window: span{from, max(it.Close, from+soonDays)}, wish: from, items: []int{i}})
	}
	return drafts
}

// includedIn returns the first visit that does item i's work as part of other
// work while that is still in time, nil if none does. What is planned to be
// done by then is as good as done: nobody comes in for it again.
func (b *planning) includedIn(i int, drafts []*visitDraft) *visitDraft {
	var first *visitDraft
	for _, s := range drafts {
		if day := b.dayOf(s); day <= b.plan.Items[i].Close && (first == nil || day < b.dayOf(first)) && b.coveredBy(s.items, i) {
			first = s
		}
	}
	return first
}

// lapsedRide returns the lay-up that an item waits for which is in time yet and
// was to go with a fit-out that is over, nil if it does not wait: who did not
// come all spring is not invited for a few weeks of summer.
func (b *planning) lapsedRide(it *DueItem, drafts []*visitDraft) *visitDraft {
	if !b.fitOutLapsed || it.Open > b.today || it.Basis == BasisOnce || b.forWarranty(it) {
		return nil
	}
	k := slices.IndexFunc(drafts, func(s *visitDraft) bool { return s.kind == LayUp && s.season == b.today.Year() })
	if k < 0 {
		return nil
	}
	return drafts[k]
}

// protectingLayUp returns the coming lay-up if an item goes with it so that
// nothing used is left in the engine over the winter, whenever it falls due by
// its interval; nil if it does not. What is due before has its own time.
func (b *planning) protectingLayUp(it *DueItem, drafts []*visitDraft) *visitDraft {
	r, ok := b.p.rule[it.Rule]
	if !ok || !r.WithLayUp {
		return nil
	}
	k := slices.IndexFunc(drafts, func(s *visitDraft) bool { return s.kind == LayUp })
	if k < 0 || it.Close < drafts[k].window.to || !b.usedBy(it, b.dayOf(drafts[k])) {
		return nil
	}
	if it.Basis == BasisUnknown {
		it.Labour, it.Price = r.Labour, r.Price // a look does not tell how old it is
	}
	it.Open = min(it.Open, drafts[k].window.from)
	return drafts[k]
}

// freshMonths is for how many months oil and lube that have hardly run count as
// fresh. Common practice, no source.
const freshMonths = 6

// usedBy reports whether the oil or lube of an item will be used or old on a
// day, or nobody knows how old.
func (b *planning) usedBy(it *DueItem, day civil.Day) bool {
	c, start := b.component(it.ComponentID), it.LastDay
	switch {
	case start != 0:
	case it.StartsFrom == "in service":
		start = c.InService
	case it.StartsFrom == "sold":
		start = b.f.Boat.SoldOn
	}
	if start == 0 || c.hrs == nil || day > start.AddMonths(freshMonths) {
		return true
	}
	m, from := b.hoursFrom(it, c, start)
	return m.Expected(day)-from >= b.p.set.LayUpOilHours
}

// resetIncluded moves the items to which an earlier visit attends along with
// other work of its own.
func (b *planning) resetIncluded(drafts []*visitDraft) {
	for _, s := range drafts {
		s.items = slices.DeleteFunc(s.items, func(i int) bool {
			if b.makesVisit(&b.plan.Items[i]) {
				return false
			}
			first := b.includedIn(i, drafts)
			if first == nil || first == s || b.dayOf(first) >= b.dayOf(s) {
				return false
			}
			first.items = append(first.items, i)
			return true
		})
	}
}

// dayOf is the day that a visit is meant for, as far as it is known.
func (b *planning) dayOf(s *visitDraft) civil.Day {
	if s.booking != nil {
		return s.booking.Day
	}
	return max(s.window.nearest(s.wish), b.today)
}

// window is when an item can still be done: its own window, or the coming
// weeks when that is past. A check before the warranty ends makes no sense after.
func (b *planning) window(it *DueItem) span {
	monday := b.today.Week().Monday()
	switch {
	case it.Close >= b.today:
		return span{it.Open, it.Close}
	case b.forWarranty(it):
		return span{monday, it.ByDate}
	}
	return span{monday, monday + soonDays}
}

// forWarranty reports whether an item must be done while the sale's warranty
// runs: late is too late.
func (b *planning) forWarranty(it *DueItem) bool {
	r, ok := b.p.rule[it.Rule]
	return ok && r.Expiry != nil && r.Expiry.From == rules.FromWarranty
}

// seasonDrafts makes one draft for each lay-up and fit-out that is due.
func (b *planning) seasonDrafts() []*visitDraft {
	var drafts []*visitDraft
	for i := range b.plan.Items {
		it := &b.plan.Items[i]
		if !b.makesVisit(it) {
			continue
		}
		kind := b.seasonKind(it)
		k := slices.IndexFunc(drafts, func(s *visitDraft) bool { return s.kind == kind && s.season == it.Season })
		if k < 0 {
			s := &visitDraft{kind: kind, season: it.Season, window: b.window(it), wish: it.Due, late: it.Close < b.today}
			if bk := b.booking(b.seasonID(kind, it.Season)); bk != nil {
				s.booking, s.window, s.wish, s.late = bk, span{bk.Day, bk.Day}, bk.Day, false
			}
			if kind == LayUp && b.f.Boat.Berth == "shop-heated" && s.booking == nil {
				s.wish = b.f.Place.LayUpDay(it.Season) + heatedLater
			}
			if s.late && kind == FitOut {
				s.window.to = max(s.window.from, min(s.window.to, b.f.Place.halfSummer(it.Season)))
			}
			k, drafts = len(drafts), append(drafts, s)
		}
		drafts[k].items = append(drafts[k].items, i)
	}
	return drafts
}

// makesVisit reports whether an item is a season's own work, for which the shop
// has the boat in. What of a fit-out is left when that is over rides along.
func (b *planning) makesVisit(it *DueItem) bool {
	return it.Basis == BasisSeason && !it.ByCustomer && !(b.seasonKind(it) == FitOut && b.fitOutOver(it.Season))
}

// seasonKind tells whether a season item is a lay-up or a fit-out.
func (b *planning) seasonKind(it *DueItem) string {
	if r, ok := b.p.rule[it.Rule]; ok {
		return r.Season
	}
	return it.Service
}

func (b *planning) seasonID(kind string, season int) string {
	return b.f.Boat.ID + "." + kind + "." + strconv.Itoa(season)
}

// booking returns the booking of a visit, if it has one.
func (b *planning) booking(visitID string) *Booking {
	for i := range b.f.Bookings {
		if b.f.Bookings[i].VisitID == visitID {
			return &b.f.Bookings[i]
		}
	}
	return nil
}

// bookedExtras makes a draft for each booked extra visit, so that items whose
// window holds the booked day join it instead of asking for a visit more.
func (b *planning) bookedExtras() []*visitDraft {
	var drafts []*visitDraft
	for i := range b.f.Bookings {
		if bk := &b.f.Bookings[i]; bk.Kind == Extra {
			drafts = append(drafts, &visitDraft{kind: Extra, window: span{bk.Day, bk.Day}, wish: bk.Day, booking: bk})
		}
	}
	return drafts
}

// keepBooked adds the booked visits of which nothing is left to do, and takes out all
// others without work. Somebody was told of the day, so it stays in the plan until it is
// over, or given up, or work is recorded on it.
func (b *planning) keepBooked(drafts []*visitDraft) []*visitDraft {
	for i := range b.f.Bookings {
		bk := &b.f.Bookings[i]
		if !slices.ContainsFunc(drafts, func(s *visitDraft) bool { return s.booking == bk }) {
			season, _ := strconv.Atoi(bk.VisitID[strings.LastIndexByte(bk.VisitID, '.')+1:])
			drafts = append(drafts, &visitDraft{kind: bk.Kind, season: season, window: span{bk.Day, bk.Day}, wish: bk.Day, booking: bk})
		}
	}
	return slices.DeleteFunc(drafts, func(s *visitDraft) bool {
		return len(s.items) == 0 && (s.booking == nil || s.booking.Day < b.today ||
			slices.ContainsFunc(b.recs, func(r *Record) bool { return r.Day >= s.booking.Day }))
	})
}

// assign puts an item on a visit and narrows the visit's window to days that
// suit both, as far as there are any. An item past its window comes along
// whenever the visit is.
func (b *planning) assign(s *visitDraft, i int) {
	s.items = append(s.items, i)
	it := &b.plan.Items[i]
	if (it.Close < b.today || s.late) && !b.forWarranty(it) {
		return
	}
	joint, open := b.window(it).and(s.window), b.stillOpen(s)
	if left := joint.and(open); !left.empty() && (left.days() >= min(roomToLevel, s.window.days()) || open.days() <= roomToLevel) {
		s.window = joint
	}
}

// coverWindows gives the items that ride with nothing the fewest extra visits.
func (b *planning) coverWindows(left []int) []*visitDraft {
	var items []int
	var windows []span
	for _, i := range left {
		it := &b.plan.Items[i]
		if it.Due > b.today+civil.Day(b.p.set.HorizonDays-settledDays) {
			continue
		}
		w := b.outsideWinter(b.window(it))
		switch {
		case !w.empty() && w.to >= b.today:
		case b.forWarranty(it):
			w = span{b.today, b.window(it).to} // even in winter: after it nothing can be claimed
		default:
			w = span{b.today, b.today + soonDays}
		}
		items, windows = append(items, i), append(windows, w)
	}
	var drafts []*visitDraft
	for _, group := range fewestDays(windows) {
		s := &visitDraft{kind: Extra, window: windows[group[0]]}
		for _, g := range group {
			s.items = append(s.items, items[g])
			s.window = s.window.and(windows[g])
		}
		s.wish = b.leastWaste(s)
		drafts = append(drafts, s)
	}
	return drafts
}

// fewestDays groups windows so that the windows of one group have a day in
// common, in as few groups as there can be. It takes the window that closes
// first, comes on its last day, and lets every window that is open then share
// the day. That greedy choice is optimal: the first window to close needs some
// day of its own, and no earlier day serves more of the others. The groups hold
// indexes of windows, none of which may be empty.
func fewestDays(windows []span) [][]int {
	order := make([]int, len(windows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(windows[x].to, windows[y].to) })
	var groups [][]int
	for len(order) > 0 {
		at := windows[order[0]].to
		var group, rest []int
		for _, i := range order {
			if windows[i].has(at) {
				group = append(group, i)
			} else {
				rest = append(rest, i)
			}
		}
		groups, order = append(groups, group), rest
	}
	return groups
}

// leastWaste is the day within the window with the smallest sum of days early
// and late over the items: their median due day.
func (b *planning) leastWaste(s *visitDraft) civil.Day {
	dues := make([]civil.Day, len(s.items))
	for k, i := range s.items {
		dues[k] = b.plan.Items[i].Due
	}
	slices.Sort(dues)
	return s.window.nearest(dues[(len(dues)-1)/2])
}
