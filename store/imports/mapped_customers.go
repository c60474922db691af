package imports

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// person is a customer of one pass.
type person struct {
	schedule.Customer
	stored schedule.Customer // without an ID if the store does not know them
	merged bool              // of two: rows then only fill what is empty
	from   []place           // the rows that speak of them
}

// people are the customers of one pass; those of the store as soon as a row means
// them.
type people struct {
	t    *taking
	byID map[string]*person
}

func newPeople(t *taking) *people { return &people{t: t, byID: map[string]*person{}} }

// of finds or makes the customer that a row speaks of; nil if it speaks of none.
func (p *people) of(l *mapping.Line, row sourceRow) (*person, error) {
	if !l.KnowsCustomer() {
		return nil, nil
	}
	id, err := p.t.ident.customer(row.no)
	if err != nil {
		return nil, err
	}
	found, err := p.load(id)
	if err != nil || found != nil {
		return found, err
	}
	if l.Customer.Name == "" {
		return nil, refuse("names the customer %q, whom no row and nobody in the store describes", id)
	}
	found = &person{Customer: l.Customer}
	found.ID = id
	return found, nil
}

// lay lays what a row says over a customer.
func (p *people) lay(at place, who *person, l *mapping.Line) {
	if p.byID[who.ID] == nil {
		p.add(who)
	}
	p.merge(at, who, l.Customer)
	who.from = append(who.from, at)
}

// naturalID makes an id from what people are known by. It stays the same for
// the same name and first way to reach them.
func naturalID(c schedule.Customer) string {
	return "C-" + tables.RowID("customer", match.Fold(c.Name), wayTo(c))[:10]
}

// wayTo is the first way to reach a customer, "" if there is none.
func wayTo(c schedule.Customer) string {
	return cmp.Or(strings.ToLower(c.Email), match.PhoneKey(c.Phone), match.Fold(c.Address))
}

// load finds a customer by id, in the store too; nil if there is none.
func (p *people) load(id string) (*person, error) {
	if known := p.byID[id]; known != nil {
		return known, nil
	}
	c, err := tables.Customer(p.t.ctx, p.t.db.Read, id)
	ok, err := kernel.Found(err)
	if err != nil || !ok {
		return nil, err
	}
	return p.add(&person{Customer: c, stored: c}), nil
}

func (p *people) add(who *person) *person {
	who.merged = hasMerged(p.t.merged, "customer_id", who.ID)
	p.byID[who.ID] = who
	return who
}

// merge lays what a row says over what is known.
func (p *people) merge(at place, to *person, c schedule.Customer) {
	for _, f := range []struct {
		column   string
		to, from *string
	}{
		{"name", &to.Name, &c.Name}, {"email", &to.Email, &c.Email}, {"phone", &to.Phone, &c.Phone},
		{"address", &to.Address, &c.Address}, {"city", &to.City, &c.City}, {"region", &to.Region, &c.Region},
		{"postal code", &to.PostalCode, &c.PostalCode}, {"contact by", &to.ContactBy, &c.ContactBy},
		{"language", &to.Language, &c.Language},
	} {
		if to.merged && *f.to != "" {
			continue
		}
		p.t.overlay(at, "customer "+to.ID, f.column, f.to, *f.from, len(to.from) > 0)
	}
}

// overlay lays one text over another. Rows of the same tables that contradict
// each other are noted.
func (t *taking) overlay(at place, whose, column string, to *string, from string, said bool) {
	if from == "" || from == *to {
		return
	}
	if said && *to != "" && !strings.EqualFold(*to, from) {
		t.note(at, whose+": "+column+" is "+from+" here and "+*to+" on an earlier row; the later one is kept")
	}
	*to = from
}

// give hands the customers that rows speak of to the intake.
func (p *people) give(in *intake, o *origins) error {
	for _, id := range slices.Sorted(maps.Keys(p.byID)) {
		c := p.byID[id]
		if len(c.from) == 0 || c.Customer == c.stored {
			continue
		}
		if err := give(in, o, c.from, &columns.Customers, id, c.Customer, in.customer); err != nil {
			return err
		}
	}
	return nil
}
