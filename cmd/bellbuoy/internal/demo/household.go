package demo

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bellbuoy/schedule/civil"
)

// builder hands out numbers and keeps what all households have in common.
type builder struct {
	rng          *rand.Rand // the household's own
	today, start civil.Day
	left         int // hulls still to be invented
	customers    int // numbers given so far
	hulls        int
	towns        []town
	kinds        []kind
	jobs         []job
}

// person is a customer with the habits that the shop can only guess at.
type person struct {
	id      string
	loyalty float64   // chance to come in for a season visit
	leaves  civil.Day // goes elsewhere from that day on; none for who stays
	candour float64   // chance to tell what was done elsewhere
}

// household invents a customer with one to three boats.
func (b *builder) household() *Shop {
	part := &Shop{}
	home := weighted(b.rng, b.towns, func(t *town) int { return t.share })
	who := b.person(part, home)
	boats := 1
	switch p := b.rng.Float64(); {
	case p < 0.03:
		boats = 3
	case p < 0.16:
		boats = 2
	}
	for range min(boats, b.left) {
		b.boat(part, home, who)
	}
	return part
}

func (b *builder) person(part *Shop, home *town) *person {
	b.customers++
	c := customer(b.rng, b.customers, home)
	part.Customers = append(part.Customers, c)
	who := &person{id: c.ID, candour: b.rng.Float64()}
	switch p := b.rng.Float64(); {
	case p < 0.62:
		who.loyalty = 0.94
	case p < 0.9:
		who.loyalty = 0.7
	default:
		who.loyalty = 0.25
	}
	if chance(b.rng, 0.16) {
		who.leaves = dayBetween(b.rng, b.start.AddMonths(12), b.today.AddMonths(6))
	}
	return who
}

// boat invents one of the household's hulls and, now and then, the older one
// that was traded in for it and sold to somebody else.
func (b *builder) boat(part *Shop, home *town, who *person) {
	h := b.hull(home)
	if chance(b.rng, 0.13) { // bought elsewhere, looked after here
		h.arrives(who, dayBetween(b.rng, b.start, b.today-30))
	} else {
		day := b.saleDay(b.start.AddMonths(-18), b.today-14)
		if resold := day + civil.Day(between(b.rng, 20, 90)); day > b.start.AddMonths(20) && resold < b.today-7 && b.left > 0 && chance(b.rng, 0.25) {
			old := b.hull(home)
			old.sold(who, b.saleDay(b.start.AddMonths(1), day.AddMonths(-10)))
			old.tradedIn(day, b.person(part, home), resold)
			old.live(part)
		}
		h.sold(who, day)
	}
	h.live(part)
}

// saleWeight is how many of a year's boats are sold in each month, in relation
// to the best one: invented, spring-heavy.
var saleWeight = [12]float64{0.05, 0.1, 0.4, 0.8, 1, 0.8, 0.45, 0.3, 0.15, 0.08, 0.05, 0.05}

func (b *builder) saleDay(lo, hi civil.Day) civil.Day {
	for {
		if d := dayBetween(b.rng, lo, hi); chance(b.rng, saleWeight[d.Month()-time.January]) {
			return d
		}
	}
}

// hull numbers a new hull and gives it a kind, a maker and a berth. Age and
// owners follow.
func (b *builder) hull(home *town) *hull {
	b.hulls++
	b.left--
	h := &hull{rng: b.rng, today: b.today, start: b.start, number: b.hulls, home: home, jobs: b.jobs}
	h.kind = weighted(b.rng, b.kinds, func(k *kind) int { return k.share })
	h.model = pick(b.rng, h.kind.models)
	h.boat.ID = fmt.Sprintf("B%05d", b.hulls)
	h.boat.Make, h.boat.Model = h.model.maker, h.model.name
	h.boat.Kind, h.boat.Water, h.boat.Place = h.kind.name, home.water, home.Name
	h.boat.LengthFt = h.model.lengthFt
	h.boat.Berth = berth(b.rng, h.kind.name)
	if chance(b.rng, 0.55) {
		h.boat.Name = pick(b.rng, boatNames)
	}
	return h
}

func berth(rng *rand.Rand, kind string) string {
	if kind == "cruiser" || kind == "sail" {
		return pick(rng, []string{"own-dock", "shop-outside", "shop-outside", "shop-inside", "shop-heated"})
	}
	return pick(rng, []string{"own-dock", "own-lift", "own-lift", "trailer-home", "trailer-home", "trailer-home", "shop-inside", "shop-outside", "shop-outside", "shop-heated"})
}
