package schedule

import (
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// ServiceCharge is a battery charged, or a lithium one checked, in storage.
const ServiceCharge = "battery-charge"

// storedAtMost is for how many days a boat counts as stored after its lay-up or
// haul-out if nothing says that it was launched. Common practice, no source.
const storedAtMost = 300

// storedSince is the day on which the boat was laid up or hauled out and since
// when it stands with us, its batteries charged; none if it does not.
func (b *planning) storedSince() civil.Day {
	if !b.f.Boat.WithUs() {
		return 0
	}
	var stored civil.Day
	for _, r := range b.recs {
		switch r.Service {
		case LayUp, ServiceHaul:
			stored = r.Day
		case FitOut, ServiceLaunch:
			stored = 0
		}
	}
	if b.today > stored+storedAtMost {
		return 0
	}
	return stored
}

// dueStored adds what components need while the boat stands with us: done on a
// round of the yard, in no visit and at no price.
func (b *planning) dueStored() {
	stored := b.storedSince()
	if stored == 0 {
		return
	}
	for i := range b.comps {
		c := &b.comps[i]
		r := b.p.storageRule(&b.f.Boat, c.Component)
		if r == nil {
			continue
		}
		ov := b.overrides(c, r)
		if ov.Skip || ov.ByCustomer {
			continue
		}
		it := b.newItem(c, r, ov, done{})
		it.Labour, it.Price, it.Basis, it.LastDay = 0, 0, BasisStored, stored
		for _, rec := range b.recs {
			if rec.Day >= stored && (rec.Service == r.Service || rec.Service == "battery") && (rec.ComponentID == "" || rec.ComponentID == c.ID) {
				it.LastDay = rec.Day
			}
		}
		it.Due = it.LastDay + civil.Day(r.StoredDays)
		it.Open, it.Close = it.Due, it.Due
		b.plan.Items = append(b.plan.Items, it)
	}
}

// HomeCharge returns what the owner does about the batteries of a boat that is
// laid up elsewhere: the rule with the shortest time, and whether all of them are
// lithium; nil if the boat is stored with us or no battery of it is on file.
func (p *Planner) HomeCharge(f *Facts) (shortest *rules.Rule, lithium bool) {
	if f.Boat.WithUs() {
		return nil, false
	}
	lithium = true
	for i := range f.Components {
		c := &f.Components[i]
		if c.Kind != "battery" {
			continue
		}
		if r := p.storageRule(&f.Boat, c); r != nil {
			lithium = lithium && c.Attr.Get("battery") == "lithium"
			if shortest == nil || r.StoredDays < shortest.StoredDays {
				shortest = r
			}
		}
	}
	return shortest, lithium
}

// storageRule is what a component needs in storage, nil for nothing.
func (p *Planner) storageRule(b *Boat, c *Component) *rules.Rule {
	plain := b.attr(c)
	plain.Extra = ""
	for _, a := range []Attr{b.attr(c), plain} {
		all := p.match(a).rules
		if i := slices.IndexFunc(all, func(r *rules.Rule) bool { return r.StoredDays > 0 }); i >= 0 {
			return all[i]
		}
	}
	return nil
}
