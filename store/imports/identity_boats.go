package imports

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// fleetOrder puts what is numbered before what is only named, and that before
// what is only described.
func (s *spoken) fleetOrder() int {
	switch {
	case s.hull != "" || s.boatID != "":
		return 0
	case s.registration != "":
		return 1
	case s.boat != "":
		return 2
	}
	return 3
}

// joinBoats decides which mentions mean one boat, once their owners are decided.
func (x *identities) joinBoats() {
	x.boats = newGroups(len(x.all), func(i int) string { return x.all[i].boatID })
	x.looks = make([]looks, len(x.all))
	for i := range x.all {
		x.looks[i] = x.all[i].looks()
	}
	x.joinByNumber("id ", func(s *spoken) string { return s.boatID })
	x.joinByNumber("hull ", func(s *spoken) string { return s.hull })
	x.joinByNumber("registration ", func(s *spoken) string { return s.registration })
	owned := map[int][]int{} // by owner: mentions of boats
	for i := range x.all {
		m := &x.all[i]
		if m.knowsBoat() && m.knowsCustomer() && x.unsure[i] == "" {
			owned[x.people.first(i)] = append(owned[x.people.first(i)], i)
		}
	}
	for _, owner := range slices.Sorted(maps.Keys(owned)) {
		x.settleFleet(owned[owner])
	}
	for i := range x.all {
		m := &x.all[i]
		if m.knowsBoat() && m.fleetOrder() > 1 && !m.knowsCustomer() {
			x.unfit[i] = "describes a boat without a number that can be read and without an owner; add one of them"
		}
	}
	x.nameBoats()
	for owner, all := range owned { // whose boats are which, for rows that describe none
		for _, i := range all {
			if first := x.boats.first(i); x.unfit[i] == "" && !slices.Contains(x.fleets[owner], first) {
				x.fleets[owner] = append(x.fleets[owner], first)
			}
		}
	}
}

// nameBoats gives boats an id by the best that is known of them.
func (x *identities) nameBoats() {
	x.nameGroups(&x.boats, func(i int) bool { return x.all[i].knowsBoat() }, func(members []int) string {
		best := slices.MinFunc(members, func(a, b int) int { return cmp.Or(x.all[a].fleetOrder()-x.all[b].fleetOrder(), a-b) })
		m := &x.all[best]
		return naturalBoatID(m.vessel, m.reg, x.people.id[x.people.first(best)])
	})
}

// joinByNumber joins mentions with one number, unless their hull numbers or ids
// differ. One without an id of its own that two boats' number fits means neither.
func (x *identities) joinByNumber(kind string, number func(*spoken) string) {
	by := map[string][]int{} // by number: groups that stay apart
	for i := range x.all {
		n := number(&x.all[i].spoken)
		if n == "" {
			continue
		}
		at := slices.IndexFunc(by[n], func(other int) bool {
			a, b := x.looks[x.boats.first(other)], x.looks[x.boats.first(i)]
			return !(kind == "registration " && apart(a.hulls, b.hulls)) && x.joinBoat(other, i)
		})
		if at < 0 {
			by[n] = append(by[n], i)
		} else if len(by[n]) > 1 && x.all[i].boatID == "" && kind == "hull " {
			x.unfit[i] = fmt.Sprintf("%d boats have this number; name the boat by the shop's own id", len(by[n]))
		}
	}
}

// looks is what is known of one boat by everybody who mentions it.
type looks struct {
	hulls, odd, registrations, names, makes, models, years []string
}

func (s *spoken) looks() (l looks) {
	year := ""
	if s.year != 0 {
		year = strconv.Itoa(s.year)
	}
	l.each(&l, func(to, _ *[]string, k int) {
		if v := []string{s.hull, s.oddHull, s.registration, s.boat, s.make, s.model, year}[k]; v != "" {
			*to = []string{v}
		}
	})
	return l
}

func (l *looks) each(o *looks, fn func(to, from *[]string, k int)) {
	from := []*[]string{&o.hulls, &o.odd, &o.registrations, &o.names, &o.makes, &o.models, &o.years}
	for k, to := range []*[]string{&l.hulls, &l.odd, &l.registrations, &l.names, &l.makes, &l.models, &l.years} {
		fn(to, from[k], k)
	}
}

// joinBoat makes two groups one, with what is known of both, and reports whether
// they are.
func (x *identities) joinBoat(i, j int) bool {
	a, b := x.boats.first(i), x.boats.first(j)
	if a == b || !x.boats.join(a, b) {
		return a == b
	}
	a, b = min(a, b), max(a, b)
	x.looks[a].each(&x.looks[b], func(to, from *[]string, _ int) {
		for _, v := range *from {
			if !slices.Contains(*to, v) {
				*to = append(*to, v)
			}
		}
	})
	return true
}

// apart reports whether two lists share nothing although neither is empty.
func apart(a, b []string) bool {
	return len(a) > 0 && len(b) > 0 && !slices.ContainsFunc(a, func(s string) bool { return slices.Contains(b, s) })
}

// clash reports whether two boats cannot be one: other numbers, or another maker.
func (l *looks) clash(o *looks) bool {
	maker := len(l.makes) > 0 && len(o.makes) > 0 && !slices.ContainsFunc(l.makes, func(a string) bool {
		return slices.ContainsFunc(o.makes, func(b string) bool { return strings.Contains(a, b) || strings.Contains(b, a) })
	})
	return maker || apart(l.hulls, o.hulls) || apart(l.registrations, o.registrations) || len(l.hulls)+len(o.hulls) == 0 && apart(l.odd, o.odd)
}

// named reports whether two boats of one owner bear one name, and not one after
// the other.
func (l *looks) named(o *looks) bool {
	return len(l.names) > 0 && len(o.names) > 0 && !apart(l.names, o.names) && !l.clash(o) && !(apart(l.models, o.models) && apart(l.years, o.years))
}

// described reports whether two boats of one owner, of which one bears no name,
// are described alike.
func (l *looks) described(o *looks) bool {
	if len(l.names) > 0 && len(o.names) > 0 || l.clash(o) || apart(l.models, o.models) || apart(l.years, o.years) {
		return false
	}
	return len(l.models) > 0 && len(o.models) > 0 || len(l.makes) > 0 && len(o.makes) > 0
}

// fits are those groups that a boat may be: those of its name, else those that
// look like it.
func (x *identities) fits(groups []int, l *looks) (fit []int) {
	for _, same := range []func(*looks, *looks) bool{(*looks).named, (*looks).described} {
		for _, g := range groups {
			if first := x.boats.first(g); same(&x.looks[first], l) && !slices.Contains(fit, first) {
				fit = append(fit, first)
			}
		}
		if len(fit) > 0 {
			break
		}
	}
	return fit
}

// settleFleet joins the mentions of one owner's boats, those first of which most
// is known. A boat that only has a name or a description and fits several means
// none of them.
func (x *identities) settleFleet(mentions []int) {
	var groups []int
	order := map[int]int{}
	for _, i := range mentions {
		first := x.boats.first(i)
		if _, known := order[first]; !known {
			groups, order[first] = append(groups, first), 3
		}
		order[first] = min(order[first], x.all[i].fleetOrder())
	}
	for _, g := range groups {
		order[g] = 4*order[g] + 3 - 2*min(1, len(x.looks[g].models)) - min(1, len(x.looks[g].years))
	}
	slices.SortStableFunc(groups, func(a, b int) int { return order[a] - order[b] })
	var settled []int
	for _, g := range groups {
		fit := x.fits(settled, &x.looks[g])
		switch {
		case len(fit) == 1 && x.joinBoat(fit[0], g):
		case len(fit) > 1 && order[g] >= 2*4:
			for _, i := range mentions {
				if x.boats.first(i) == g {
					x.unfit[i] = fmt.Sprintf("customer %q has %d boats that this may be; name it, or add its number", x.all[i].customer.Name, len(fit))
				}
			}
		default:
			settled = append(settled, g)
		}
	}
}
