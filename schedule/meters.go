package schedule

import (
	"cmp"
	"fmt"
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// readMeters builds the hours forecast of every engine that has a limit in
// hours.
func (b *planning) readMeters() {
	for ci := range b.comps {
		c := &b.comps[ci]
		if !c.metered() {
			continue
		}
		var rs []forecast.Reading
		for _, r := range b.f.Readings {
			if r.ComponentID == c.ID && r.Day <= b.today {
				rs = append(rs, forecast.Reading{Day: r.Day, Hours: r.Hours.Float(), NewMeter: r.NewMeter})
			}
		}
		for _, r := range b.recs {
			if r.ComponentID == c.ID && r.HasHours {
				rs = append(rs, forecast.Reading{Day: r.Day, Hours: r.Hours.Float()})
			}
		}
		rs, start := b.ownersReadings(rs, c.InService)
		model, faults := forecast.New(b.p.prior(b.f.Boat.Kind), b.p.season(b.f.Place), rs, start)
		c.hrs = model
		for _, ft := range faults {
			words := fmt.Sprintf("reading of %.1f h on %s left out: %s", ft.Reading.Hours, ft.Reading.Day, ft.Reason)
			c.faults = append(c.faults, words)
			b.problem("%s: %s", cmp.Or(c.Label, c.ID), words)
		}
	}
	b.shareMeters()
}

// handover is how long before a sale, in days, a meter reading still counts as
// taken for it.
const handover = 60

// ownersReadings drops what an earlier owner ran, whose habits say nothing about
// the present one's: the readings from before the sale and the zero of the
// first day in service. Where nothing was read since, the newest reading before
// stays: it says where the meter stood.
func (b *planning) ownersReadings(rs []forecast.Reading, inService civil.Day) ([]forecast.Reading, civil.Day) {
	first := b.f.Boat.SoldOn - handover
	if b.f.Boat.SoldOn == 0 || len(rs) == 0 && inService >= first {
		return rs, inService
	}
	slices.SortStableFunc(rs, func(x, y forecast.Reading) int { return cmp.Compare(x.Day, y.Day) })
	n := slices.IndexFunc(rs, func(r forecast.Reading) bool { return r.Day >= first })
	if n < 0 {
		n = max(0, len(rs)-1)
	}
	if inService < first {
		inService = 0
	}
	return rs[n:], inService
}

// shareMeters lets twin engines learn from each other's readings.
func (b *planning) shareMeters() {
	var at []int
	var models []*forecast.Model
	for ci := range b.comps {
		if b.comps[ci].hrs != nil && b.comps[ci].Kind == "engine" {
			at, models = append(at, ci), append(models, b.comps[ci].hrs)
		}
	}
	if len(models) < 2 {
		return
	}
	for i, m := range forecast.Shared(models...) {
		b.comps[at[i]].hrs = m
	}
}

// unread forecasts the hours since a day of an engine whose meter was never
// read, as if it had shown nothing then: from its kind's usage, and from what
// its sisters were seen to run.
func (b *planning) unread(c *component, since civil.Day) *forecast.Model {
	m, _ := forecast.New(b.p.prior(b.f.Boat.Kind), b.p.season(b.f.Place), nil, since)
	models := []*forecast.Model{m}
	for i := range b.comps {
		if o := &b.comps[i]; o != c && o.Kind == c.Kind && o.hrs != nil && o.hrs.Known() {
			models = append(models, o.hrs)
		}
	}
	return forecast.Shared(models...)[0]
}

// metered reports whether any rule of the component counts hours.
func (c *component) metered() bool {
	for _, r := range c.m.rules {
		if r.Every.Hours > 0 || r.First.Hours > 0 {
			return true
		}
	}
	return false
}
