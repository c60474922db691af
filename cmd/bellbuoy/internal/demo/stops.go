package demo

import (
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// occasion is why somebody works on a hull or reads its meters.
type occasion string

const (
	recondition   occasion = "recondition" // before the sale of a used boat
	fitOut        occasion = "fit-out"
	layUp         occasion = "lay-up"
	yearly        occasion = "yearly" // where there is no lay-up
	repair        occasion = "repair"
	warrantyCheck occasion = "warranty"
	meterNote     occasion = "meter" // the owner wrote in what the meter shows
)

type stop struct {
	day civil.Day
	why occasion
}

// stops are all occasions of the hull's life that the history can hold, in
// order of day. What becomes of each is decided when it comes.
func (h *hull) stops() []stop {
	var all []stop
	for i, o := range h.owners {
		if o.soldOn != 0 && (h.used || i > 0) {
			all = append(all, stop{o.soldOn - civil.Day(between(h.rng, 3, 18)), recondition})
		}
		if o.warranty != 0 {
			all = append(all, stop{o.warranty - civil.Day(between(h.rng, 5, 40)), warrantyCheck})
		}
	}
	for y := max(h.start, h.met()).Year(); y <= h.today.Year(); y++ {
		all = append(all, h.season(y)...)
	}
	all = slices.DeleteFunc(all, func(s stop) bool { return s.day < h.start || s.day > h.today })
	slices.SortStableFunc(all, func(a, b stop) int { return int(a.day - b.day) })
	return all
}

// season are the stops of one calendar year.
func (h *hull) season(y int) []stop {
	jan, dec := civil.Of(y, time.January, 1), civil.Of(y, time.December, 31)
	var all []stop
	if h.home.Freezes() {
		launch, deadline := h.home.Launch.In(y), h.home.LayUp.In(y)
		// The same six weeks for everybody; a few come after the deadline.
		all = append(all,
			stop{launch - civil.Day(between(h.rng, -6, 35)), fitOut},
			stop{deadline - civil.Day(between(h.rng, -8, 36)), layUp})
		jan, dec = launch+10, deadline-20
	} else {
		all = append(all, stop{dayBetween(h.rng, jan, dec), yearly})
	}
	if chance(h.rng, 0.14) {
		all = append(all, stop{dayBetween(h.rng, jan, dec), repair})
	}
	if chance(h.rng, 0.1) {
		all = append(all, stop{dayBetween(h.rng, jan, dec), meterNote})
	}
	return all
}

// stop plays one occasion: who comes, who does the work, what is written down.
func (h *hull) stop(s stop) {
	o := h.ownerOn(s.day)
	switch {
	case s.why == recondition:
		if o == nil || s.day < h.met() {
			h.read(s.day, "shop")
			h.work(s, schedule.ByBeforeSale)
		}
	case o == nil:
	case s.why == meterNote:
		h.read(s.day, "owner")
	case h.comes(o, s):
		h.read(s.day, "shop")
		h.work(s, schedule.ByShop)
	case s.why != repair && s.why != warrantyCheck && chance(h.rng, 0.4*o.candour):
		h.work(s, schedule.ByElsewhere)
	}
}

// comes decides whether the owner brings the boat to the shop.
func (h *hull) comes(o *owner, s stop) bool {
	if o.leaves != 0 && s.day >= o.leaves {
		return false
	}
	p := o.loyalty
	switch s.why {
	case fitOut: // some put the boat in themselves
		p *= 0.85
	case warrantyCheck:
		p *= 0.6
	}
	return chance(h.rng, p)
}
