package schedule

import (
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// dueByExpiry is a printed or legal last day.
func (b *planning) dueByExpiry(it DueItem, c *component, r *rules.Rule) {
	x := r.Expiry
	if x.From == "warranty" {
		w := b.f.Boat.WarrantyUntil
		if w == 0 || b.today > w || (it.LastDay != 0 && it.LastDay >= b.f.Boat.SoldOn) {
			return
		}
		it.ByDate = w
		it.Due, it.Basis = w-1, BasisExpiry // before the last day, never on it
		b.add(it, r.EarlyDays, 0)
		return
	}
	it.ByDate = c.Expires
	if it.ByDate == 0 && c.Made != 0 {
		it.ByDate = lastGoodDay(x, c.Made)
	}
	if it.LastDay != 0 && it.LastDay > it.ByDate-civil.Day(r.EarlyDays) && it.LastDay > c.Made {
		// It was replaced, and nobody wrote down the date on the new one: the
		// safe guess is that it had lain on a shelf for a year.
		it.StartsFrom, it.ByDate = "replaced", lastGoodDay(x, it.LastDay.AddMonths(-shelfMonths))
	}
	if it.ByDate == 0 {
		b.dueUnknown(it, r) // nobody wrote down the date that stands on it
		return
	}
	it.Due, it.Basis = it.ByDate, BasisExpiry
	grace := r.GraceDays
	if w, ok := b.winterAround(it.Due); ok {
		grace = max(grace, int(w.to-it.Due)) // ashore nobody needs it: it counts against the launch
	}
	b.add(it, r.EarlyDays, grace)
}

// shelfMonths is how old, in months, a new part of unknown date may be when it
// is fitted. Common practice, no source.
const shelfMonths = 12

// lastGoodDay is the last day of a part made on that day, none if the rule
// knows only printed days.
func lastGoodDay(x *rules.Expiry, made civil.Day) civil.Day {
	months := 12*x.YearsAfterMade + x.MonthsAfterMade
	if months == 0 {
		return 0
	}
	d := made.AddMonths(months)
	if x.EndOfYear {
		d = civil.Of(d.Year(), time.December, 31)
	}
	return d
}
