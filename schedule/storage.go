package schedule

import (
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// ServiceCharge is a battery charged, or a lithium one checked, in storage.
const ServiceCharge = "battery-charge"

// StoredBattery is a battery of a boat that stands with us.
type StoredBattery struct {
	Boat    Boat
	Battery Component
	// Stored is the day on which the boat was laid up or hauled, with its battery
	// charged; Charged the last day since on which it was charged again, none if
	// it was not.
	Stored, Charged civil.Day
}

// ChargeDue returns the day by which a stored battery needs a charge, and the
// rule that says so; nil if the shop has dropped that rule. A type that is not
// recorded, or that no rule knows, is taken as not recorded: the shortest time.
func (p *Planner) ChargeDue(s *StoredBattery) (civil.Day, *rules.Rule) {
	r := p.storageRule(&s.Boat, &s.Battery)
	if r == nil {
		return 0, nil
	}
	return max(s.Stored, s.Charged) + civil.Day(r.StoredDays), r
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
