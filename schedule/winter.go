package schedule

import (
	"slices"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// A boat's year has two turns. A lay-up counts for the season of the summer
// before it: recorded from midsummer on, it is that year's. A fit-out counts
// for the summer after it: recorded from midwinter on, it is that year's.
// Midsummer is taken as 24 June and midwinter as 22 December (the customary
// days, near the solstices; from memory).
var (
	midsummer = civil.MonthDay{Month: time.June, Day: 24}
	midwinter = civil.MonthDay{Month: time.December, Day: 22}
)

// LayUpSeason is the season that a lay-up done on the day counts for.
func LayUpSeason(d civil.Day) int {
	if y := d.Year(); d >= midsummer.In(y) {
		return y
	}
	return d.Year() - 1
}

// FitOutSeason is the season that a fit-out done on the day counts for.
func FitOutSeason(d civil.Day) int {
	if y := d.Year(); d < midwinter.In(y) {
		return y
	}
	return d.Year() + 1
}

// LayUpDay is the last day for the lay-up after the summer of the year; none
// where boats are not laid up. A deadline in January or later lies in the next
// calendar year.
func (p *Place) LayUpDay(season int) civil.Day {
	if !p.Freezes() {
		return 0
	}
	d := p.LayUp.In(season)
	if d < midsummer.In(season) {
		d = p.LayUp.In(season + 1)
	}
	return d
}

// LaunchDay is the day on which owners want to be afloat in that year.
func (p *Place) LaunchDay(season int) civil.Day { return p.Launch.In(season) }

// halfSummer is the middle of the time between launch and lay-up of the year.
func (p *Place) halfSummer(season int) civil.Day {
	launch := p.LaunchDay(season)
	return launch + (p.LayUpDay(season)-launch)/2
}

// dueBySeason adds one item for each lay-up or fit-out from the one that is
// still open now to the horizon.
func (b *planning) dueBySeason(it DueItem, c *component, r *rules.Rule) {
	pl := &b.f.Place
	if !pl.Freezes() || pl.Launch.IsZero() {
		return // warm places have no lay-up; their boats run by date and hours
	}
	seasonOf, dayOf := LayUpSeason, pl.LayUpDay
	if r.Season == FitOut {
		seasonOf, dayOf = FitOutSeason, pl.LaunchDay
	}
	done := 0
	if it.LastDay != 0 {
		done = seasonOf(it.LastDay)
	}
	for y := b.today.Year() - 1; y <= b.today.Year()+2; y++ {
		if y <= done || !b.afterSale(r, y) || r.IfMissed != "" && !b.layUpMissed(c, y-1) && !b.stoodOut(c, y-1) {
			continue
		}
		it := it
		by := dayOf(y)
		if r.Season == LayUp {
			by = b.beforeFreeze(by, y)
		}
		it.Season, it.Due, it.Basis = y, max(by, b.f.Boat.SoldOn), BasisSeason
		early := r.EarlyDays
		if r.Season == LayUp && b.f.Boat.Berth == "shop-heated" {
			early += int(b.f.Place.lastLayUpDay(y) - it.Due)
			it.Due = b.f.Place.lastLayUpDay(y) // nothing freezes there
		}
		switch {
		case r.Season == FitOut && r.IfMissed == "" && b.fitOutOver(y):
			if !it.ByCustomer {
				b.fitOutLapsed = true
			}
			if !r.Safety && !r.Legal {
				it.Basis, it.Labour, it.Price, it.ByCustomer = BasisDropped, 0, 0, false
			}
		case b.seasonPast(r.Season, y):
			continue
		case r.Season == LayUp && b.layUpAsked(y):
			it.Basis, it.Labour, it.Price, it.ByCustomer = BasisAsk, 0, 0, false
		}
		it.MissedLast = it.Basis == BasisSeason && y == seasonOf(b.today) && done < y-1 && b.f.Boat.SoldOn != 0 && b.afterSale(r, y-1)
		if it.Due-civil.Day(early) > b.today+civil.Day(b.p.set.HorizonDays) {
			break
		}
		b.add(it, early, r.GraceDays)
	}
}

const (
	// askAfterFreeze is how many days after the first hard freeze a lay-up that
	// nobody did becomes a question, askAfterDeadline how many after its last day
	// where no hard freeze is on record. By then the water has frozen or is not
	// there. Common practice, no source.
	askAfterFreeze, askAfterDeadline = 21, 30
)

// layUpAsked reports whether it is too late to plan the lay-up of a season: the
// desk asks whether it was done. A day that somebody booked for it holds.
func (b *planning) layUpAsked(season int) bool {
	pl := &b.f.Place
	if b.f.Boat.Berth == "shop-heated" {
		return false
	}
	from, days := pl.LayUpDay(season), askAfterDeadline
	if pl.HardFreeze != 0 && LayUpSeason(pl.HardFreeze) == season {
		from, days = pl.HardFreeze, askAfterFreeze
	}
	if b.today <= max(from, b.f.Boat.SoldOn)+civil.Day(days) {
		return false
	}
	bk := b.booking(b.seasonID(LayUp, season))
	return bk == nil || bk.Day < b.today
}

// layUpMissed reports whether a component should have been laid up in a season,
// by the file was not, and is not to be any more.
func (b *planning) layUpMissed(c *component, season int) bool {
	return b.layUpAsked(season) && slices.ContainsFunc(c.m.rules, func(r *rules.Rule) bool {
		last := c.last[slices.Index(c.m.rules, r)].rec
		return r.Season == LayUp && b.afterSale(r, season) && !b.overrides(c, r).Skip && (last == nil || LayUpSeason(last.Day) < season)
	})
}

// fitOutOver reports whether a fit-out of this summer comes too late: half of it
// is gone. What of it is set by law or guards people goes with the lay-up, and
// so does what else is late.
func (b *planning) fitOutOver(year int) bool {
	pl := &b.f.Place
	return b.today > pl.halfSummer(year) && b.today <= pl.LayUpDay(year) && !b.doneFor(LayUp, year)
}

// afterSale reports whether a season's lay-up or fit-out was still to be done
// when we sold the boat. Water in a block freezes whoever owns it, so a lay-up
// was, from midsummer until its fit-out was near. A boat sold later than a
// fit-out's first good day was made ready for the water by the sale, unless by
// the file it still stood laid up.
func (b *planning) afterSale(r *rules.Rule, year int) bool {
	sold, pl := b.f.Boat.SoldOn, &b.f.Place
	if r.Season == LayUp {
		return LayUpSeason(sold) <= year && pl.layUpOpen(year, sold)
	}
	return sold <= pl.LaunchDay(year)-civil.Day(r.EarlyDays) || sold <= pl.halfSummer(year) && b.doneFor(LayUp, year-1)
}

// fitOutNear is how long before the launch day, in days, a boat that was not
// laid up is no longer laid up but fitted out: what the frost did is done, and
// the fit-out finds it. Common practice, no source.
const fitOutNear = 45

// seasonPast reports whether an undone lay-up or fit-out has lost its point: a
// lay-up once its fit-out is near or was done, a fit-out once half its summer
// is gone.
func (b *planning) seasonPast(kind string, year int) bool {
	pl := &b.f.Place
	if kind == FitOut {
		return b.today > pl.halfSummer(year) || b.doneFor(LayUp, year)
	}
	return !pl.layUpOpen(year, b.today) || b.doneFor(FitOut, year+1)
}

// layUpOpen reports whether on a day it is not too late for a season's lay-up.
func (p *Place) layUpOpen(season int, d civil.Day) bool { return d <= p.lastLayUpDay(season) }

// lastLayUpDay is the last day on which a season's lay-up has a point.
func (p *Place) lastLayUpDay(season int) civil.Day { return p.LaunchDay(season+1) - fitOutNear - 1 }

// NeedsLayUp reports whether a boat that is not laid up on a day should be
// before the winter is over.
func (p *Place) NeedsLayUp(d civil.Day) bool {
	return p.Freezes() && !p.Launch.IsZero() && p.layUpOpen(LayUpSeason(d), d)
}

// LeftToFreeze reports whether a component that is laid up for this winter has
// neither a lay-up on record since midsummer nor one in the plan. It asks
// nothing about sales or owners, so that a plan which overlooks a boat for
// their sake is found.
func (p *Planner) LeftToFreeze(f *Facts, plan *BoatPlan, today civil.Day) bool {
	b := &planning{p: p, f: f, today: today}
	season := LayUpSeason(today)
	if gone := f.Boat.Gone; gone != 0 && gone <= today || !f.Place.Freezes() || f.Place.Launch.IsZero() {
		return false
	}
	b.arrange()
	b.findLast()
	if b.seasonPast(LayUp, season) {
		return false
	}
	for ci := range b.comps {
		c := &b.comps[ci]
		for i, r := range c.m.rules {
			if r.Season != LayUp || b.overrides(c, r).Skip || c.last[i].rec != nil && LayUpSeason(c.last[i].rec.Day) == season {
				continue
			}
			if !slices.ContainsFunc(plan.Items, func(it DueItem) bool { return it.ComponentID == c.ID && it.Rule == r.Code && it.Season == season }) {
				return true
			}
		}
	}
	return false
}

// doneFor reports whether the boat had that lay-up or fit-out of the year.
func (b *planning) doneFor(kind string, year int) bool {
	seasonOf := LayUpSeason
	if kind == FitOut {
		seasonOf = FitOutSeason
	}
	for i := len(b.recs) - 1; i >= 0; i-- {
		if b.recs[i].Service == kind && seasonOf(b.recs[i].Day) == year {
			return true
		}
	}
	return false
}

// winter is the time in which a boat is laid up and does not come in:
// From is the first day after the lay-up, To the launch day.
type winter struct{ from, to civil.Day }

// beforeWinter is the last day before the boat's next winter, seen from a day
// outside one; none where boats are not laid up.
func (b *planning) beforeWinter(d civil.Day) civil.Day {
	if !b.f.Place.Freezes() {
		return 0
	}
	for y := d.Year() - 1; ; y++ {
		if last := b.f.Place.LayUpDay(y); last >= d {
			return last
		}
	}
}

// wintersBack and wintersAhead are how many years round today have their
// winters worked out beforehand; other days are rare.
const wintersBack, wintersAhead = 3, 7

// findWinters works out the winters that most questions are about.
func (b *planning) findWinters() {
	pl := &b.f.Place
	if !pl.Freezes() || pl.Launch.IsZero() {
		return
	}
	first := b.today.Year() - wintersBack
	b.winters = make([]winter, wintersBack+wintersAhead)
	for i := range b.winters {
		b.winters[i] = b.winterOf(first + i)
	}
}

// winterOf is the winter that begins in the autumn of the year. It starts with
// the recorded lay-up, else with the last day for it, and ends with the
// recorded fit-out, else with the launch day.
func (b *planning) winterOf(year int) winter {
	w := winter{from: b.f.Place.LayUpDay(year) + 1, to: b.f.Place.LaunchDay(year + 1)}
	for _, r := range b.recs {
		switch {
		case r.Service == LayUp && LayUpSeason(r.Day) == year:
			w.from = r.Day + 1
		case r.Service == FitOut && FitOutSeason(r.Day) == year+1:
			w.to = r.Day
		}
	}
	return w
}

// winterAround returns the winter that the day lies in, if it lies in one.
func (b *planning) winterAround(d civil.Day) (winter, bool) {
	if len(b.winters) == 0 {
		return winter{}, false // boats are not laid up here
	}
	last := len(b.winters) - 1
	if d < b.winters[0].to || d > b.winters[last].from {
		for _, y := range []int{d.Year() - 1, d.Year()} {
			if w := b.winterOf(y); d >= w.from && d < w.to {
				return w, true
			}
		}
		return winter{}, false
	}
	for i := range b.winters {
		if w := &b.winters[i]; d >= w.from && d < w.to {
			return *w, true
		}
	}
	return winter{}, false
}
