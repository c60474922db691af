package schedule

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
	"bellbuoy/schedule/rules"
)

// The service codes of what is said about a whole used boat at its sale.
const (
	// ServiceReconditionedThroughout is somebody's word that the whole boat was
	// reconditioned: jobs of an interval that are not on record count from the
	// day of the sale instead of being unknown.
	ServiceReconditionedThroughout = "reconditioned-throughout"
	// ServiceRemark is a note for the record, about no job.
	ServiceRemark = "remark"
)

const (
	// throughoutBefore is how long before the sale, in days, the whole boat may
	// have been reconditioned: what is older was for an earlier sale.
	throughoutBefore = 365
	// usedBefore is how long before the sale, in days, an engine must have been
	// in service to be a used one, whose break-in is somebody else's past.
	usedBefore = 90
	// followUpEarly and followUpGrace are the window round a follow-up's day.
	followUpEarly, followUpGrace = 14, 14
	// hoursGrace is the least grace, in days, of a limit in hours.
	hoursGrace = 14
	// inspectionLabour is the time, in minutes, to look at a part whose history
	// is unknown; replacing it is quoted after the look.
	inspectionLabour = 15
)

// dueFor adds the due items of one component.
func (b *planning) dueFor(c *component) {
	for i, r := range c.m.rules {
		ov := b.overrides(c, r)
		if ov.Skip {
			continue
		}
		it := b.newItem(c, r, ov, c.last[i])
		switch {
		case r.Season != "":
			b.dueBySeason(it, c, r)
		case r.Expiry != nil:
			b.dueByExpiry(it, c, r)
		case r.Once:
			b.dueOnce(it, c, r)
		case !r.Every.IsZero():
			b.dueByInterval(it, c, r, ov)
		}
	}
}

// newItem is a rule's item before anything has set its day.
func (b *planning) newItem(c *component, r *rules.Rule, ov Override, last done) DueItem {
	it := DueItem{
		BoatID: b.f.Boat.ID, ComponentID: c.ID, Rule: r.Code, Service: r.Service,
		Labour: r.Labour, Price: r.Price,
		Duty: c.Duty, Overridden: ov.Source, ByCustomer: r.ByCustomer || ov.ByCustomer,
	}
	if it.ByCustomer {
		it.Labour, it.Price = 0, 0
	}
	if last.rec != nil {
		it.LastDay, it.LastBy, it.LastVia = last.rec.Day, last.rec.By, last.via
		if last.rec.HasHours && last.rec.ComponentID == c.ID {
			it.LastHours, it.HasLastHours = last.rec.Hours, true
		}
	}
	return it
}

// overrides joins what the engine family, the component and the boat say about
// a rule; the closer one wins.
func (b *planning) overrides(c *component, r *rules.Rule) Override {
	var ov Override
	if fr, ok := c.m.overrides[r.Code]; ok {
		ov = Override{Months: fr.Every.Months, Hours: fr.Every.Hours, Skip: fr.Skip, Source: fr.Source.Text}
	}
	for _, own := range []bool{false, true} { // first the whole boat's, then the component's own
		for i := range b.f.Overrides {
			o := &b.f.Overrides[i]
			if o.Rule != r.Code || (o.ComponentID != "") != own || (own && o.ComponentID != c.ID) {
				continue
			}
			ov.Months, ov.Hours = cmp.Or(o.Months, ov.Months), cmp.Or(o.Hours, ov.Hours)
			ov.Skip, ov.ByCustomer = o.Skip, o.ByCustomer
			ov.Source = cmp.Or(o.Source, ov.Source)
		}
	}
	return ov
}

// add keeps an item with its window.
func (b *planning) add(it DueItem, early, grace int) {
	it.Open, it.Close = it.Due-civil.Day(early), it.Due+civil.Day(grace)
	_, it.InWinter = b.winterAround(it.Due)
	b.plan.Items = append(b.plan.Items, it)
}

// scaled applies a component's duty to an interval; something always remains.
func scaled[T ~int | ~int32](n T, duty int) T {
	if n == 0 || duty == 0 || duty == 100 {
		return n
	}
	return max(1, n*T(duty)/100)
}

// dueByInterval is the rule of months or hours, whichever first.
func (b *planning) dueByInterval(it DueItem, c *component, r *rules.Rule, ov Override) {
	every := rules.Interval{Months: cmp.Or(ov.Months, r.Every.Months), Hours: cmp.Or(ov.Hours, r.Every.Hours)}
	sold := b.f.Boat.SoldOn
	switch {
	case it.LastDay != 0:
		b.count(&it, c, it.LastDay, every)
	case c.InService != 0:
		first := it
		first.StartsFrom, first.HasLastHours = "in service", true // the meter started at zero
		if r.First != (rules.Interval{}) {
			b.count(&first, c, c.InService, b.firstInterval(c, r))
		} else {
			b.count(&first, c, c.InService, every)
		}
		if sold == 0 || first.Due >= sold {
			it = first
		} else { // it fell due before the boat was ours to look after
			it.StartsFrom, it.ByDate = startsBeforeSale, first.Due
		}
	}
	if it.Due == 0 && b.reconditioned(r) {
		it.StartsFrom, it.ByDate = "sold", 0
		b.count(&it, c, sold, every)
	}
	if it.Due == 0 {
		// Nobody wrote down whether it was done.
		it.Months, it.Hours = scaled(every.Months, c.Duty), scaled(every.Hours, c.Duty)
		b.dueUnknown(it, r)
		return
	}
	grace := r.GraceDays
	if it.Basis == BasisHours {
		// While the boat runs, hours do not stand still as a calendar's grace
		// supposes: after the median day most have passed the limit.
		grace = min(grace, max(int(it.HoursMedian-it.Due), hoursGrace))
	}
	b.add(it, r.EarlyDays, grace)
}

// count sets the day that an interval reaches from a start.
func (b *planning) count(it *DueItem, c *component, start civil.Day, every rules.Interval) {
	it.Months, it.Hours = scaled(every.Months, c.Duty), scaled(every.Hours, c.Duty)
	if it.Months > 0 {
		it.ByDate = start.AddMonths(it.Months)
	}
	it.Due, it.Basis = it.ByDate, BasisDate
	if it.Hours > 0 && c.hrs != nil {
		b.limitByHours(it, c, start)
	}
	if it.Due == 0 {
		// Hours only, and no way to tell how fast they run up within the
		// forecast's reach: it is seen once a year all the same.
		it.ByDate = start.AddMonths(12)
		it.Due, it.Basis = it.ByDate, BasisUnknown
	}
}

// firstInterval is a rule's first interval, as the engine family has it if it
// says so.
func (b *planning) firstInterval(c *component, r *rules.Rule) rules.Interval {
	if fr, ok := c.m.overrides[r.Code]; ok && !fr.First.IsZero() {
		return fr.First
	}
	return r.First
}

// startsBeforeSale is the StartsFrom of an item that fell due before the sale.
const startsBeforeSale = "before the sale"

// reconditioned reports whether the work before the latest sale vouches for a
// rule's job that is not on record: somebody of ours said that the whole boat
// was done, and no law asks for more than that.
func (b *planning) reconditioned(r *rules.Rule) bool {
	sold := b.f.Boat.SoldOn
	return sold != 0 && !r.Legal && slices.ContainsFunc(b.recs, func(rec *Record) bool {
		return rec.Service == ServiceReconditionedThroughout && rec.By != ByElsewhere && rec.Day <= sold && rec.Day > sold-throughoutBefore
	})
}

// limitByHours lets the hours limit win where the forecast reaches it first.
func (b *planning) limitByHours(it *DueItem, c *component, start civil.Day) {
	m, from := b.hoursFrom(it, c, start)
	limit := from + it.Hours.Float()
	it.HoursAt = tenths(limit)
	if it.ByDate != 0 && m.LaterThan(limit, b.p.set.Percentile, it.ByDate) {
		return
	}
	day, ok := m.DayReached(limit, b.p.set.Percentile)
	if !ok {
		return
	}
	it.ByHours = day
	if it.ByDate == 0 || day < it.ByDate {
		it.Due, it.Basis = day, BasisHours
		it.HoursMedian, _ = m.DayReached(limit, 0.5)
		it.HoursLate, _ = m.DayReached(limit, 0.75)
	}
}

// hoursFrom is the forecast of a component's meter and what the meter showed on
// the day from which an item counts.
func (b *planning) hoursFrom(it *DueItem, c *component, start civil.Day) (m *forecast.Model, from float64) {
	switch m = c.hrs; {
	case !m.Known():
		return b.unread(c, start), 0
	case it.HasLastHours:
		return m, m.ToCurrent(it.LastHours.Float(), start)
	}
	m = m.Since(start)
	return m, m.Expected(start)
}

// dueUnknown plans a look at the next visit: never silently on time. What the
// look finds is quoted after it. Only a look that is due every year is the whole
// job, whatever was done before. The day is set once the season's items are
// known.
func (b *planning) dueUnknown(it DueItem, r *rules.Rule) {
	it.Basis, it.Due = BasisUnknown, 0
	if yearly := r.Every.Months > 0 && r.Every.Months <= 12; !r.Inspect || !yearly {
		it.Labour, it.Price = min(it.Labour, inspectionLabour), 0
	}
	b.plan.Items = append(b.plan.Items, it)
}

// settleUnknown gives the items without a history the day of the first season
// visit that is still to come or overdue, else the next 1 April or 1 October:
// days that stay put while the plan is made again each night.
func (b *planning) settleUnknown() {
	var next civil.Day
	for i := range b.plan.Items {
		it := &b.plan.Items[i]
		if it.Basis == BasisSeason && (next == 0 || it.Due < next) {
			next = it.Due
		}
	}
	if next == 0 {
		next = b.halfYear()
	}
	for i := range b.plan.Items {
		if it := &b.plan.Items[i]; it.Basis == BasisUnknown && it.Due == 0 {
			it.Due, it.Open, it.Close = next, next-365, next
		}
	}
}

// halfYear is the next 1 April or 1 October.
func (b *planning) halfYear() civil.Day {
	for y := b.today.Year(); ; y++ {
		for _, m := range []time.Month{time.April, time.October} {
			if d := civil.Of(y, m, 1); d >= b.today {
				return d
			}
		}
	}
}

// dueOnce is the break-in: due once, counted from the first day in service.
func (b *planning) dueOnce(it DueItem, c *component, r *rules.Rule) {
	sold := b.f.Boat.SoldOn
	if it.LastDay != 0 || c.InService == 0 || (sold != 0 && c.InService < sold-usedBefore) {
		return
	}
	for i, o := range c.m.rules {
		if slices.Contains(r.EndedBy, o.Service) && c.last[i].rec != nil && c.last[i].rec.Day > c.InService {
			return // its oil has been changed since: the break-in is past
		}
	}
	it.StartsFrom, it.HasLastHours = "in service", true
	first := b.firstInterval(c, r)
	it.Months, it.Hours = scaled(first.Months, c.Duty), scaled(first.Hours, c.Duty)
	if it.Months > 0 {
		it.ByDate = c.InService.AddMonths(it.Months)
	}
	it.Due, it.Basis = it.ByDate, BasisOnce
	if it.Hours > 0 && c.hrs != nil {
		b.limitByHours(&it, c, c.InService)
	}
	if it.Due == 0 || b.today > it.Due.AddMonths(24) {
		return // two years on, the yearly services have long taken its place
	}
	b.add(it, r.EarlyDays, r.GraceDays)
}

// followUps adds the open one-off jobs.
func (b *planning) followUps() {
	for i := range b.f.FollowUps {
		fu := &b.f.FollowUps[i]
		if slices.ContainsFunc(b.recs, fu.closedBy) {
			continue
		}
		b.add(DueItem{
			BoatID: b.f.Boat.ID, ComponentID: cmp.Or(fu.ComponentID, b.f.Boat.ID),
			Rule: followUpPrefix + fu.ID, Service: fu.Service,
			Due: fu.Due, Basis: BasisOnce, LastDay: fu.Raised, Labour: cmp.Or(fu.Labour, followUpMinutes), Price: fu.Price,
		}, followUpEarly, followUpGrace)
	}
}

// followUpMinutes is what a look at a finding takes unless somebody says so.
// Common practice, no source.
const followUpMinutes = 30

// closedBy reports whether a record is the work that a follow-up waits for: after
// the day of the finding, or from the day on which it was asked for. Of work that
// no rule knows it is the one in the same words.
func (fu *FollowUp) closedBy(r *Record) bool {
	if r.Service != fu.Service || r.Day < fu.Raised || r.Day == fu.Raised && !fu.Asked {
		return false
	}
	if fu.Service == ServiceOther {
		title, _, _ := strings.Cut(r.Note, "\n")
		return title == fu.Title
	}
	return fu.ComponentID == "" || r.ComponentID == "" || r.ComponentID == fu.ComponentID
}

// IsFollowUp reports whether an item stands for the follow-up of an id.
func (it *DueItem) IsFollowUp(id string) bool { return it.Rule == followUpPrefix+id }

// followUpPrefix marks the Rule of an item that stands for a follow-up.
const followUpPrefix = "follow-up:"
