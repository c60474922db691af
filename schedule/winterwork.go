package schedule

import (
	"slices"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// Winter work is done from one of these days to the other, while boats stand in
// storage and the shop is idle; best in the middle. Common practice, no source.
var (
	winterWorkFrom = civil.MonthDay{Month: time.November, Day: 1}
	winterWorkTo   = civil.MonthDay{Month: time.March, Day: 31}
)

// winterWork takes what is done cold out of the lay-up and the fit-out after it,
// if the boat winters with us and its owner agrees, and makes a visit of it between
// the two. What must be done before the frost, and what needs a running engine,
// stays where it is.
func (b *planning) winterWork(drafts []*visitDraft) []*visitDraft {
	if !b.f.Boat.WithUs() || !b.f.Boat.WinterWork || !b.f.Place.Freezes() {
		return drafts
	}
	season := func(kind string, year int) *visitDraft {
		if k := slices.IndexFunc(drafts, func(s *visitDraft) bool { return s.kind == kind && s.season == year }); k >= 0 {
			return drafts[k]
		}
		return nil
	}
	for year := LayUpSeason(b.today); year <= LayUpSeason(b.today)+1; year++ {
		layUp, fitOut := season(LayUp, year), season(FitOut, year+1)
		from, to := winterWorkFrom.In(year), min(winterWorkTo.In(year+1), b.f.Place.LaunchDay(year+1)-1)
		switch {
		case layUp != nil:
			from = max(from, b.dayOf(layUp)+1)
		case !b.doneFor(LayUp, year):
			continue // it is not in storage that we know
		}
		from = max(from, b.today.Week().Monday())
		w := &visitDraft{kind: Winter, season: year, window: span{from, to}, wish: from + (to-from)/2}
		if bk := b.booking(b.seasonID(Winter, year)); bk != nil {
			w.booking, w.window, w.wish = bk, span{bk.Day, bk.Day}, bk.Day
		}
		if w.window.empty() || w.window.to < b.today && w.booking == nil {
			continue
		}
		for _, s := range []*visitDraft{layUp, fitOut} {
			if s != nil {
				b.takeCold(s, w)
			}
		}
		if len(w.items) > 0 {
			drafts = append(drafts, w)
		}
	}
	return drafts
}

// takeCold moves what is done cold from a season visit to the winter's work. What
// other work there includes is done with that.
func (b *planning) takeCold(s, winter *visitDraft) {
	var cold []int
	for _, i := range s.items {
		if it := &b.plan.Items[i]; b.cold(it) && !b.makesVisit(it) && !b.coveredBy(s.items, i) {
			cold = append(cold, i)
		}
	}
	for _, i := range cold {
		s.items = slices.DeleteFunc(s.items, func(k int) bool { return k == i })
	}
	winter.items = append(winter.items, cold...)
}

// cold reports whether an item can be done with the engine cold and the boat on
// land: its rule says so, or it is a repair.
func (b *planning) cold(it *DueItem) bool {
	r, ok := b.p.rule[it.Rule]
	return ok && r.Cold && !(r.Expiry != nil && r.Expiry.From == rules.FromWarranty) || !ok && it.Service == "repair"
}
