package imports

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// joinPeople decides which mentions mean one customer.
func (x *identities) joinPeople() {
	x.people = newGroups(len(x.all), func(i int) string { return x.all[i].customerID })
	seen := map[string]int{} // evidence to the first mention with it
	for i := range x.all {
		for _, e := range x.all[i].evidence() {
			first, known := seen[e[0]]
			if !known {
				seen[e[0]] = i
			} else if x.people.join(first, i) && x.all[first].wayKey() != x.all[i].wayKey() {
				x.because(i, e[1])
			}
		}
	}
	x.joinByName()
	x.nameGroups(&x.people, func(i int) bool { return x.all[i].knowsCustomer() }, func(members []int) string {
		best := members[0]
		if k := slices.IndexFunc(members, func(i int) bool { return x.all[i].reached() }); k >= 0 {
			best = members[k]
		}
		return naturalID(x.all[best].customer)
	})
	all := map[int][]string{} // the reasons of whole groups
	for i := range x.all {
		first := x.people.first(i)
		for _, why := range x.why[i] {
			if !slices.Contains(all[first], why) {
				all[first] = append(all[first], why)
			}
		}
	}
	x.why = all
}

func (x *identities) because(i int, why string) {
	if why != "" {
		x.why[i] = append(x.why[i], why)
	}
}

// wayKey is how a customer is reached.
func (s *spoken) wayKey() string { return s.email + "\n" + s.phones + "\n" + s.street }

// evidence are the texts that mentions of one customer share, with what to call
// them. All but ids count only together with the name.
func (m *mention) evidence() (all [][2]string) {
	if m.customerID != "" {
		all = append(all, [2]string{"id " + m.customerID, ""})
	}
	if m.name == "" {
		return all
	}
	with := func(kind, value, why string) {
		if value != "" {
			all = append(all, [2]string{m.name + "\n" + kind + value, why})
		}
	}
	with("email ", m.email, "same email address")
	for _, p := range strings.Fields(m.phones) {
		with("phone ", p, "same phone number")
	}
	with("street ", m.street, "same street")
	with("hull ", m.hull, "same hull number")
	with("registration ", m.registration, "same registration")
	if m.customerID == "" && (m.reached() || m.hull+m.registration == "") {
		all = append(all, [2]string{"id " + naturalID(m.customer), ""})
	}
	return all
}

// joinByName finds out whom those mean that say no more than a name: the only
// one who bears it, or the only one with such a boat.
func (x *identities) joinByName() {
	reached := map[int]bool{} // groups of which more is known
	for i := range x.all {
		if x.all[i].reached() || x.all[i].customerID != "" {
			reached[x.people.first(i)] = true
		}
	}
	named, bare := map[string][]int{}, map[string][]int{} // by name: groups, and mentions of no group that is reached
	for i := range x.all {
		name, first := x.all[i].name, x.people.first(i)
		switch {
		case name == "":
		case !reached[first]:
			bare[name] = append(bare[name], i)
		case !slices.Contains(named[name], first):
			named[name] = append(named[name], first)
		}
	}
	owns := map[int][]int{} // by group: its mentions, of the names that several bear
	for i := range x.all {
		if len(named[x.all[i].name]) > 1 {
			owns[x.people.first(i)] = append(owns[x.people.first(i)], i)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(bare)) {
		theirs := named[name]
		for _, i := range bare[name] {
			switch fit := x.withSuchBoat(theirs, owns, i); {
			case len(theirs) == 0:
				x.people.join(bare[name][0], i)
			case len(fit) == 1 && x.people.join(fit[0], i):
				x.because(i, "the only customer of that name")
			default:
				x.unsure[i] = fmt.Sprintf("%d customers are called %q; add an email address, a phone number or the customer's number", len(theirs), x.all[i].customer.Name)
			}
		}
	}
}

// withSuchBoat are those of some groups whose boats a mention may mean; the only
// group means any.
func (x *identities) withSuchBoat(theirs []int, owns map[int][]int, i int) (fit []int) {
	if len(theirs) == 1 {
		return theirs
	}
	m := &x.all[i]
	looks := m.looks()
	for _, first := range theirs {
		such := func(k int) bool {
			known := x.all[k].looks()
			return known.named(&looks) || known.described(&looks)
		}
		if slices.ContainsFunc(owns[first], such) {
			fit = append(fit, first)
		}
	}
	return fit
}

// nameGroups gives an id to the groups that have none.
func (x *identities) nameGroups(g *groups, counts func(int) bool, name func(members []int) string) {
	members, taken := map[int][]int{}, map[string]bool{}
	for i := range x.all {
		if counts(i) {
			members[g.first(i)] = append(members[g.first(i)], i)
			taken[g.id[g.first(i)]] = true
		}
	}
	for _, first := range slices.Sorted(maps.Keys(members)) {
		if g.id[first] != "" {
			continue
		}
		id := name(members[first])
		for n := 2; taken[id]; n++ { // two boats of one owner may bear one name
			id = fmt.Sprintf("%s-%d", name(members[first]), n)
		}
		g.id[first], taken[id] = id, true
	}
}
