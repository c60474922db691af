package duplicates

import (
	"context"
	"maps"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/hin"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// The kinds of things that may have been written down twice.
const (
	KindCustomer = "customer"
	KindBoat     = "boat"
)

// Pair are two customers or two boats that are probably one.
type Pair struct {
	Kind string   `json:"kind"` // TwinCustomer or TwinBoat
	A    string   `json:"a"`    // ids; A is the lower one
	B    string   `json:"b"`
	Is   string   `json:"is"` // what A and B are called
	Also string   `json:"also"`
	Why  []string `json:"why"` // "same email address", the strongest reason first
	// Agree: customers of one name with one email address, phone number or street
	// too, or boats of one owner with one hull number or registration, and nothing
	// that speaks against it.
	Agree bool `json:"agree"`
}

// Reasons why two customers may be one.
const (
	sameEmail  = "same email address"
	samePhone  = "same phone number"
	sameName   = "same name"
	sameStreet = "same street"
	lookAlike  = "hull numbers that look alike" // of boats
)

// Find finds customers with the same mail address, telephone number or name
// (in any order of its words, or nearly the same at the same street), and boats
// with the same hull number, look-alikes counted as the same, or registration.
// Pairs that were merged or told apart are left out. Nothing is changed.
func Find(ctx context.Context, db *store.Reader) ([]Pair, error) {
	all, err := find(ctx, db.Read)
	return all, kernel.Wrap(err, "look for duplicates")
}

func find(ctx context.Context, q kernel.Querier) ([]Pair, error) {
	customers, err := kernel.Collect(ctx, q, tables.ReadCustomer, "SELECT "+tables.CustomerColumns+
		" FROM customers WHERE id NOT IN (SELECT gone FROM merges WHERE kind = 'customer' AND undone_at IS NULL) ORDER BY id")
	if err != nil {
		return nil, err
	}
	boats, err := kernel.Collect(ctx, q, tables.ReadBoat, "SELECT "+tables.BoatColumns+
		" FROM boats WHERE id NOT IN (SELECT gone FROM merges WHERE kind = 'boat' AND undone_at IS NULL) ORDER BY id")
	if err != nil {
		return nil, err
	}
	registrations, err := registrations(ctx, q)
	if err != nil {
		return nil, err
	}
	owners, err := textByID(ctx, q, "SELECT boat_id, customer_id FROM ownerships WHERE to_day IS NULL")
	if err != nil {
		return nil, err
	}
	return leaveOut(ctx, q, append(likeCustomers(customers), likeBoats(boats, registrations, owners)...))
}

// registrations are the boats' registrations by boat id.
func registrations(ctx context.Context, q kernel.Querier) (map[string]string, error) {
	return textByID(ctx, q, "SELECT boat_id, label FROM components WHERE kind = 'registration'")
}

func textByID(ctx context.Context, q kernel.Querier, query string) (map[string]string, error) {
	rows, err := kernel.Collect(ctx, q, func(c *kernel.Row) [2]string { return [2]string{c.Text(0), c.Text(1)} }, query)
	all := map[string]string{}
	for _, r := range rows {
		all[r[0]] = r[1]
	}
	return all, err
}

// pairs collects why two things of a list may be one.
type pairs struct {
	why   map[[2]int][]string
	order [][2]int
}

// crowd is how many things may share a mark before it says nothing: the
// telephone number of a harbour office, a mail address of the shop itself.
const crowd = 20

// group adds a reason to every pair of things with the same mark; an empty mark
// is none.
func (p *pairs) group(n int, reason string, mark func(int) string, same func(a, b int) bool) {
	by := map[string][]int{}
	for i := range n {
		if m := mark(i); m != "" {
			by[m] = append(by[m], i)
		}
	}
	for _, m := range slices.Sorted(maps.Keys(by)) {
		if len(by[m]) > crowd {
			continue
		}
		for i, a := range by[m] {
			for _, b := range by[m][i+1:] {
				if same == nil || same(a, b) {
					p.add(a, b, reason)
				}
			}
		}
	}
}

func (p *pairs) add(a, b int, reason string) {
	k := [2]int{a, b}
	if p.why == nil {
		p.why = map[[2]int][]string{}
	}
	if len(p.why[k]) == 0 {
		p.order = append(p.order, k)
	}
	p.why[k] = append(p.why[k], reason)
}

// list writes the pairs out, those with the most reasons first.
func (p *pairs) list(kind string, id, name func(int) string, agree func(a, b int, why []string) bool) (all []Pair) {
	slices.SortStableFunc(p.order, func(a, b [2]int) int { return len(p.why[b]) - len(p.why[a]) })
	for _, k := range p.order {
		all = append(all, Pair{kind, id(k[0]), id(k[1]), name(k[0]), name(k[1]), p.why[k], agree(k[0], k[1], p.why[k])})
	}
	return all
}

func likeCustomers(all []schedule.Customer) []Pair {
	var p pairs
	p.group(len(all), sameEmail, func(i int) string { return strings.ToLower(all[i].Email) }, nil)
	p.group(len(all), samePhone, func(i int) string { return match.PhoneKey(all[i].Phone) }, nil)
	p.group(len(all), sameName, func(i int) string { return match.Name(all[i].Name) }, nil)
	p.group(len(all), "nearly the same name at the same street", func(i int) string { return match.Fold(all[i].Address + all[i].City) }, func(a, b int) bool {
		x, y := match.Name(all[a].Name), match.Name(all[b].Name)
		return x != y && all[a].Address != "" && match.EditDistance(x, y, 3) < 3
	})
	p.group(len(all), sameStreet, func(i int) string { return match.Street(all[i].Address) }, func(a, b int) bool {
		return match.Name(all[a].Name) == match.Name(all[b].Name)
	})
	return p.list(KindCustomer, func(i int) string { return all[i].ID }, func(i int) string { return all[i].Name }, func(_, _ int, why []string) bool { return agree(why) })
}

func likeBoats(all []schedule.Boat, registration, owner map[string]string) []Pair {
	var p pairs
	p.group(len(all), "same hull number", func(i int) string { return hin.Identity(all[i].HIN) }, nil)
	p.group(len(all), lookAlike, func(i int) string { return hin.LookAlike(all[i].HIN) }, func(a, b int) bool {
		return hin.Plain(all[a].HIN) != hin.Plain(all[b].HIN)
	})
	p.group(len(all), "same registration", func(i int) string { return match.PlainRegistration(registration[all[i].ID]) }, nil)
	return p.list(KindBoat, func(i int) string { return all[i].ID }, func(i int) string { return all[i].Title() }, func(a, b int, why []string) bool {
		x, y := match.Letters(all[a].Make), match.Letters(all[b].Make)
		one := owner[all[a].ID] != "" && owner[all[a].ID] == owner[all[b].ID] && (strings.Contains(x, y) || strings.Contains(y, x))
		return one && why[0] != lookAlike && !numbersDiffer(all[a], all[b], registration)
	})
}
