package imports

import (
	"cmp"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// recall adds what the store knows of whom and what the rows may mean: customers
// of the same names and ids, and boats of these customers, ids and numbers.
func (t *taking) recall(x *identities, rows []mention) error {
	wanted := map[string]bool{}
	for i := range rows {
		m := &rows[i]
		for _, w := range [][2]string{{"name ", m.name}, {"customer ", m.customerID}, {"customer ", naturalID(m.customer)},
			{"boat ", m.boatID}, {"hull ", m.hull}, {"registration ", m.registration}} {
			wanted[w[0]+w[1]] = wanted[w[0]+w[1]] || w[1] != ""
		}
	}
	known := map[string]schedule.Customer{}
	_, err := kernel.Collect(t.ctx, t.db.Read, func(c *kernel.Row) (none struct{}) {
		who := tables.ReadCustomer(c)
		id := cmp.Or(t.merged["customer_id "+who.ID], who.ID)
		if wanted["name "+match.Name(who.Name)] || wanted["customer "+who.ID] || wanted["customer "+id] {
			who.ID = id
			known[id] = who
			x.add(mention{spoken: spokenBy(who, schedule.Boat{}, ""), customer: who})
		}
		return none
	}, "SELECT "+tables.CustomerColumns+" FROM customers ORDER BY id")
	if err != nil {
		return err
	}
	_, err = kernel.Collect(t.ctx, t.db.Read, func(c *kernel.Row) (none struct{}) {
		b := tables.ReadBoat(c)
		c.Skip(tables.BoatWidth)
		owner, registration := c.Text(0), c.Text(1)
		owner = cmp.Or(t.merged["customer_id "+owner], owner)
		b.ID = cmp.Or(t.merged["boat_id "+b.ID], b.ID)
		who, ours := known[owner]
		says := spokenBy(who, b, registration)
		if ours || wanted["boat "+b.ID] || wanted["hull "+says.hull] || wanted["registration "+says.registration] {
			x.add(mention{says, who, b, registration})
		}
		return none
	}, "SELECT "+kernel.Column("b", tables.BoatColumns)+`, coalesce(o.customer_id, ''), coalesce(r.label, '') FROM boats b
		LEFT JOIN ownerships o ON o.boat_id = b.id AND o.to_day IS NULL
		LEFT JOIN components r ON r.boat_id = b.id AND r.kind = 'registration' ORDER BY b.id`)
	return err
}
