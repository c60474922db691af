package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// claim is somebody having a boat from a day on; customer "" is the shop itself.
type claim struct {
	customer string
	from     civil.Day // none: longer than anybody knows
}

// ownership is a claim with its end, as the store keeps it. Times in which the
// shop itself has the boat are gaps, not rows.
type ownership struct {
	claim
	to civil.Day
}

// ownerships returns the owners of a boat in order.
func ownerships(ctx context.Context, q kernel.Querier, boatID string) ([]ownership, error) {
	return kernel.Collect(ctx, q, func(c *kernel.Row) ownership {
		return ownership{claim{c.Text(0), c.Day(1)}, c.Day(2)}
	}, "SELECT customer_id, from_day, to_day FROM ownerships WHERE boat_id = ? ORDER BY seq", boatID)
}

// merged is the outcome of merging claims into known ownerships.
type merged struct {
	all     []ownership
	changed bool
	claimed []change // what each claim did
}

// newest returns the customer who has the boat now, "" for the shop.
func (m *merged) newest() string {
	if n := len(m.all); n > 0 && m.all[n-1].to == 0 {
		return m.all[n-1].customer
	}
	return ""
}

// mergeClaims works out a boat's owners from those known and a file's lines.
// A claim is the known ownership of the same customer and day, else of the same
// customer if its day can be corrected without passing another owner's, else a
// new one. Then all are put in order of their first day, and each ends when the
// next begins.
func mergeClaims(boatID string, known []ownership, claims []claim) (*merged, error) {
	m := &merged{claimed: make([]change, len(claims))}
	chain := unchain(known)
	taken := make([]bool, len(chain))
	var rest []int
	for i, c := range claims {
		at := slices.Index(chain, c)
		if at < 0 || taken[at] {
			rest = append(rest, i)
			continue
		}
		taken[at] = true
	}
	for _, i := range rest {
		if at := correctable(chain[:len(taken)], taken, claims[i]); at >= 0 {
			taken[at], chain[at].from, m.claimed[i] = true, claims[i].from, changed
			continue
		}
		chain = append(chain, claims[i])
		m.claimed[i] = added
	}
	slices.SortStableFunc(chain, func(a, b claim) int { return cmp.Compare(a.from, b.from) })
	if err := checkChain(boatID, chain); err != nil {
		return nil, err
	}
	m.all = rechain(chain)
	m.changed = !slices.Equal(m.all, known)
	return m, nil
}

// correctable finds the known claim, in order of day, of which c only corrects
// the first day; -1 if c is another one.
func correctable(chain []claim, taken []bool, c claim) int {
	for i, k := range chain {
		passes := i > 0 && c.from <= chain[i-1].from || i+1 < len(chain) && c.from >= chain[i+1].from
		if !taken[i] && k.customer == c.customer && !passes {
			return i
		}
	}
	return -1
}

// unchain turns ownerships into claims; a gap becomes a claim of the shop.
func unchain(known []ownership) []claim {
	var chain []claim
	for i, o := range known {
		chain = append(chain, o.claim)
		last := i == len(known)-1
		if o.to != 0 && (last || known[i+1].from != o.to) {
			chain = append(chain, claim{"", o.to})
		}
	}
	return chain
}

// checkChain refuses owners whose order no day tells.
func checkChain(boatID string, chain []claim) error {
	for i := 1; i < len(chain); i++ {
		a, b := chain[i-1], chain[i]
		if a.from == b.from {
			return fmt.Errorf("boat %q goes to both %s and %s from %s on; give the later sale its own sold_on",
				boatID, nameOwner(a), nameOwner(b), civilOrNone(a.from))
		}
	}
	return nil
}

func nameOwner(c claim) string {
	if c.customer == "" {
		return "the shop"
	}
	return fmt.Sprintf("customer %q", c.customer)
}

// rechain ends each claim on the day on which the next begins and leaves the
// shop's own times out.
func rechain(chain []claim) []ownership {
	var all []ownership
	for i, c := range chain {
		if c.customer == "" {
			continue
		}
		o := ownership{claim: c}
		if i+1 < len(chain) {
			o.to = chain[i+1].from
		}
		all = append(all, o)
	}
	return all
}

// replaceOwnerships writes a boat's owners down anew.
func replaceOwnerships(ctx context.Context, tx kernel.Querier, boatID string, all []ownership) error {
	if _, err := tx.ExecContext(ctx, "DELETE FROM ownerships WHERE boat_id = ?", boatID); err != nil {
		return fmt.Errorf("owners of boat %q: %w", boatID, err)
	}
	for i, o := range all {
		_, err := tx.ExecContext(ctx, "INSERT INTO ownerships (boat_id, seq, customer_id, from_day, to_day) VALUES (?, ?, ?, ?, ?)",
			boatID, i, o.customer, kernel.DayArg(o.from), kernel.DayArg(o.to))
		if err != nil {
			return fmt.Errorf("owners of boat %q: %w", boatID, err)
		}
	}
	return nil
}

// Ownerships returns the owners of a boat, the present one last.
func (db *DB) Ownerships(ctx context.Context, boatID string) ([]schedule.Ownership, error) {
	all, err := ownerships(ctx, db.Read, boatID)
	if err != nil {
		return nil, fmt.Errorf("owners of boat %q: %w", boatID, err)
	}
	out := make([]schedule.Ownership, len(all))
	for i, o := range all {
		out[i] = schedule.Ownership{BoatID: boatID, CustomerID: o.customer, From: o.from, To: o.to}
	}
	return out, nil
}
