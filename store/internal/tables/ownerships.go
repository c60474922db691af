package tables

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
)

// Claim is somebody having a boat from a day on; customer "" is the shop itself.
type Claim struct {
	Customer string
	From     civil.Day // none: longer than anybody knows
}

// Ownership is a claim with its end, as the store keeps it. Times in which the
// shop itself has the boat are gaps, not rows.
type Ownership struct {
	Claim
	To civil.Day
}

// Ownerships returns the owners of a boat in order.
func Ownerships(ctx context.Context, q kernel.Querier, boatID string) ([]Ownership, error) {
	return kernel.Collect(ctx, q, func(c *kernel.Row) Ownership {
		return Ownership{Claim{c.Text(0), c.Day(1)}, c.Day(2)}
	}, "SELECT customer_id, from_day, to_day FROM ownerships WHERE boat_id = ? ORDER BY seq", boatID)
}

// Merged is the outcome of merging claims into known ownerships.
type Merged struct {
	All     []Ownership
	Changed bool
	Claimed []Change // what each claim did
}

// Newest returns the customer who has the boat now, "" for the shop.
func (m *Merged) Newest() string {
	if n := len(m.All); n > 0 && m.All[n-1].To == 0 {
		return m.All[n-1].Customer
	}
	return ""
}

// MergeClaims works out a boat's owners from those known and a file's lines.
// A claim is the known ownership of the same customer and day, else of the same
// customer if its day can be corrected without passing another owner's, else a
// new one. Then all are put in order of their first day, and each ends when the
// next begins.
func MergeClaims(boatID string, known []Ownership, claims []Claim) (*Merged, error) {
	m := &Merged{Claimed: make([]Change, len(claims))}
	chain := Unchain(known)
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
			taken[at], chain[at].From, m.Claimed[i] = true, claims[i].From, Changed
			continue
		}
		chain = append(chain, claims[i])
		m.Claimed[i] = Added
	}
	slices.SortStableFunc(chain, func(a, b Claim) int { return cmp.Compare(a.From, b.From) })
	if err := checkChain(boatID, chain); err != nil {
		return nil, err
	}
	m.All = rechain(chain)
	m.Changed = !slices.Equal(m.All, known)
	return m, nil
}

// correctable finds the known claim, in order of day, of which c only corrects
// the first day; -1 if c is another one.
func correctable(chain []Claim, taken []bool, c Claim) int {
	for i, k := range chain {
		passes := i > 0 && c.From <= chain[i-1].From || i+1 < len(chain) && c.From >= chain[i+1].From
		if !taken[i] && k.Customer == c.Customer && !passes {
			return i
		}
	}
	return -1
}

// Unchain turns ownerships into claims; a gap becomes a claim of the shop.
func Unchain(known []Ownership) []Claim {
	var chain []Claim
	for i, o := range known {
		chain = append(chain, o.Claim)
		last := i == len(known)-1
		if o.To != 0 && (last || known[i+1].From != o.To) {
			chain = append(chain, Claim{"", o.To})
		}
	}
	return chain
}

// checkChain refuses owners whose order no day tells.
func checkChain(boatID string, chain []Claim) error {
	for i := 1; i < len(chain); i++ {
		a, b := chain[i-1], chain[i]
		if a.From == b.From {
			return fmt.Errorf("boat %q goes to both %s and %s from %s on; give the later sale its own sold_on",
				boatID, nameOwner(a), nameOwner(b), civilOrNone(a.From))
		}
	}
	return nil
}

func nameOwner(c Claim) string {
	if c.Customer == "" {
		return "the shop"
	}
	return fmt.Sprintf("customer %q", c.Customer)
}

// rechain ends each claim on the day on which the next begins and leaves the
// shop's own times out.
func rechain(chain []Claim) []Ownership {
	var all []Ownership
	for i, c := range chain {
		if c.Customer == "" {
			continue
		}
		o := Ownership{Claim: c}
		if i+1 < len(chain) {
			o.To = chain[i+1].From
		}
		all = append(all, o)
	}
	return all
}

// ReplaceOwnerships writes a boat's owners down again.
func ReplaceOwnerships(ctx context.Context, tx kernel.Querier, boatID string, all []Ownership) error {
	if _, err := tx.ExecContext(ctx, "DELETE FROM ownerships WHERE boat_id = ?", boatID); err != nil {
		return fmt.Errorf("owners of boat %q: %w", boatID, err)
	}
	for i, o := range all {
		_, err := tx.ExecContext(ctx, "INSERT INTO ownerships (boat_id, seq, customer_id, from_day, to_day) VALUES (?, ?, ?, ?, ?)",
			boatID, i, o.Customer, kernel.DayArg(o.From), kernel.DayArg(o.To))
		if err != nil {
			return fmt.Errorf("owners of boat %q: %w", boatID, err)
		}
	}
	return nil
}

// civilOrNone is the day of a claim for a sentence.
func civilOrNone(d civil.Day) string {
	if d == 0 {
		return "no day"
	}
	return d.String()
}

// TimesOwned selects what happened to a boat while the customer had it.
const TimesOwned = `EXISTS (SELECT 1 FROM ownerships o WHERE o.customer_id = :id AND o.boat_id = t.boat_id
	AND (o.from_day IS NULL OR o.from_day <= %[1]s) AND (o.to_day IS NULL OR %[1]s <= o.to_day))`
