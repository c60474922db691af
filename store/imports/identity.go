package imports

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/hin"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/internal/match"
)

// identities say which customer and which boat each row means. They are decided
// once, from all rows and the store together:
//
//   - Rows with one name and one way to reach somebody (email address, phone
//     number, street), or one hull number or registration, mean one customer. A row
//     that says nothing but the name means the only customer of that name; where
//     there are several, the one with such a boat.
//   - Rows with one hull number mean one boat, and so do those with one
//     registration unless their hull numbers differ. Rows of one owner mean one
//     boat if they name it alike, or describe it alike and only one fits.
//
// What a table or the store numbers differently stays two, and so do customers
// who share nothing but the name.
type identities struct {
	merged map[string]string // see [duplicates.MergedNames]
	index  map[spoken]int
	all    []mention
	rows   []int // by number of a row: the mention that it is, -1 if it says nothing
	people groups
	boats  groups
	looks  []looks          // of boats, by the first mention of their group
	why    map[int][]string // by mention: what put customers together
	unsure map[int]string   // by mention: why nobody can say which customer it means
	unfit  map[int]string   // by mention: the same of the boat
	fleets map[int][]int    // boats of a customer, both by the first mention of their group
}

// spoken is what a row says of a customer and a boat, made comparable. Rows that
// say the same share one.
type spoken struct {
	customerID, name, email, phones, street string
	boatID, hull, oddHull, registration     string // oddHull is a text that is no hull number of any format
	boat, make, model                       string
	year                                    int
}

// mention is a spoken with how it was first written.
type mention struct {
	spoken
	customer schedule.Customer
	vessel   schedule.Boat
	reg      string
}

func spokenBy(c schedule.Customer, b schedule.Boat, registration string) spoken {
	s := spoken{
		customerID: c.ID, name: match.Name(c.Name), email: strings.ToLower(c.Email), phones: strings.Join(match.LocalNumbers(c.Phone), " "), street: match.Street(c.Address),
		boatID: b.ID, hull: hin.Identity(b.HIN), registration: match.PlainRegistration(registration),
		boat: match.Letters(b.Name), make: match.Letters(b.Make), model: match.Letters(b.Model), year: b.Year,
	}
	if s.hull == "" {
		s.oddHull = hin.Plain(b.HIN)
	}
	return s
}

// reached reports whether it says how to reach the customer.
func (s *spoken) reached() bool { return s.email != "" || s.phones != "" || s.street != "" }

func (s *spoken) knowsCustomer() bool { return s.customerID != "" || s.name != "" }

func (s *spoken) knowsBoat() bool {
	return s.boatID != "" || s.hull != "" || s.oddHull != "" || s.registration != "" || s.boat != "" || s.make != "" || s.model != ""
}

// mentioned is what a row says. What was merged bears the id that it was merged into.
func (x *identities) mentioned(l *mapping.Line) mention {
	c, b := l.Customer, l.Boat
	c.ID, b.ID = idOf(c.ID), idOf(b.ID)
	c.ID, b.ID = cmp.Or(x.merged["customer_id "+c.ID], c.ID), cmp.Or(x.merged["boat_id "+b.ID], b.ID)
	registration := idOf(l.Registration)
	return mention{spokenBy(c, b, registration), c, b, registration}
}

// add takes a mention in and returns where it stands.
func (x *identities) add(m mention) int {
	i, known := x.index[m.spoken]
	if !known {
		i = len(x.all)
		x.index[m.spoken] = i
		x.all = append(x.all, m)
	}
	return i
}

// identify reads all rows, and decides who and which boats they mean. Rows that
// cannot be read go back and say nothing.
func (t *taking) identify() error {
	x := &identities{merged: t.merged, index: map[spoken]int{}, why: map[int][]string{}, unsure: map[int]string{}, unfit: map[int]string{}, fleets: map[int][]int{}}
	err := t.eachRow(func(at place, l *mapping.Line, _ sourceRow) error {
		if len(l.Faults) > 0 {
			t.giveBack(at, l.Faults)
		}
		i := -1
		if len(l.Faults) == 0 && (l.KnowsCustomer() || l.KnowsBoat()) {
			i = x.add(x.mentioned(l))
		}
		x.rows = append(x.rows, i)
		return nil
	})
	if err != nil {
		return err
	}
	said := x.all
	x.index, x.all = map[spoken]int{}, nil
	if err := t.recall(x, said); err != nil { // the store's come first: their ids stay
		return fmt.Errorf("import: %w", err)
	}
	stands := make([]int, len(said))
	for i, m := range said {
		stands[i] = x.add(m)
	}
	for no, i := range x.rows {
		if i >= 0 {
			x.rows[no] = stands[i]
		}
	}
	x.joinPeople()
	x.joinBoats()
	t.ident = x
	return nil
}

// groups are sets of mentions that mean one thing. What is numbered differently
// never comes into one.
type groups struct {
	parent []int
	id     []string // of the group, by its first mention
}

func newGroups(n int, id func(int) string) groups {
	g := groups{parent: make([]int, n), id: make([]string, n)}
	for i := range n {
		g.parent[i], g.id[i] = i, id(i)
	}
	return g
}

// first is the first mention of a group.
func (g *groups) first(i int) int {
	for g.parent[i] != i {
		g.parent[i] = g.parent[g.parent[i]]
		i = g.parent[i]
	}
	return i
}

// join makes two groups one, and reports whether they are.
func (g *groups) join(i, j int) bool {
	a, b := g.first(i), g.first(j)
	if a == b {
		return true
	}
	if g.id[a] != "" && g.id[b] != "" && g.id[a] != g.id[b] {
		return false
	}
	a, b = min(a, b), max(a, b)
	g.id[a] = cmp.Or(g.id[a], g.id[b])
	g.parent[b] = a
	return true
}

// customer is the id of the customer that a row means, by its number.
func (x *identities) customer(no int) (string, error) {
	i := x.rows[no]
	if why := x.unsure[i]; why != "" {
		return "", refusal{why}
	}
	return x.people.id[x.people.first(i)], nil
}

// boat is the id of the boat that a row means, by its number; "" if it means none.
func (x *identities) boat(no int, l *mapping.Line) (string, error) {
	i := x.rows[no]
	switch {
	case i < 0:
		return "", nil
	case x.unfit[i] != "":
		return "", refusal{x.unfit[i]}
	case x.all[i].knowsBoat():
		return x.boats.id[x.boats.first(i)], nil
	case !x.all[i].knowsCustomer():
		return "", nil
	}
	theirs := x.fleets[x.people.first(i)]
	if len(theirs) == 1 {
		return x.boats.id[theirs[0]], nil
	}
	if len(theirs) > 1 && (len(l.Work) > 0 || l.Engines[0].Known() || l.Engines[1].Known()) {
		return "", refuse("customer %q has %d boats that this may be; name it, or add its number", l.Customer.Name, len(theirs))
	}
	return "", nil
}

// Joined is a customer whom rows of one import reach in several ways, or some of
// them in none: they were taken for one person.
type Joined struct {
	CustomerID string   `json:"customer_id"`
	Name       string   `json:"name"`
	Ways       []string `json:"ways"` // how the rows reach them
	Why        []string `json:"why"`  // what those rows have in common
}

// joined lists the customers whom rows reach in several ways, in order of name.
func (x *identities) joined() (all []Joined) {
	by, seen := map[int]*Joined{}, map[string]bool{}
	var order []*Joined
	for i := range x.all {
		m := &x.all[i]
		first := x.people.first(i)
		if !m.knowsCustomer() || x.unsure[i] != "" || len(x.why[first]) == 0 {
			continue
		}
		j := by[first]
		if j == nil {
			j = &Joined{CustomerID: x.people.id[first], Why: x.why[first]}
			by[first] = j
			order = append(order, j)
		}
		j.Name = cmp.Or(j.Name, m.customer.Name)
		if key := fmt.Sprint(first, m.wayKey()); !seen[key] {
			seen[key] = true
			ways := slices.DeleteFunc([]string{m.customer.Email, m.customer.Phone, m.customer.Address}, func(s string) bool { return s == "" })
			j.Ways = append(j.Ways, cmp.Or(strings.Join(ways, ", "), "the name alone"))
		}
	}
	for _, j := range order {
		if len(j.Ways) > 1 {
			all = append(all, *j)
		}
	}
	slices.SortStableFunc(all, func(a, b Joined) int { return cmp.Compare(a.Name, b.Name) })
	return all
}
