package figures

import (
	"cmp"
	"context"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// Away is a boat in care that has lapsed, as [schedule.Visit.Lapsed] says.
type Away struct {
	Boat     schedule.Boat
	Customer schedule.Customer
	LastDay  civil.Day      // the shop's last work on it for this customer
	Paid     Figure         // every line that this customer paid for
	Yearly   schedule.Cents // what it was worth in a year, while it came
	Contact  report.Contact // the last time that anything was told or said; without a day if never
	Wished   bool           // is on the call list by somebody's wish
}

// Away finds the boats that have lapsed, those worth most a year first.
// Boats that never paid for work here are no customers lost and not in it.
func (l *Ledger) Away(ctx context.Context) ([]Away, error) {
	lapsed, err := report.LapsedBoats(ctx, l.shop.DB)
	if err != nil {
		return nil, err
	}
	contacts, err := l.contacts(ctx)
	if err != nil {
		return nil, err
	}
	wished, err := l.wished(ctx)
	if err != nil {
		return nil, err
	}
	var all []Away
	for i := range l.histories {
		h := &l.histories[i]
		if !h.Holds(l.Today) || len(h.Comings) == 0 || !lapsed[h.Boat] {
			continue
		}
		last := max(l.lastDay[h.Boat], h.Comings[len(h.Comings)-1].Day)
		a := Away{
			Boat: l.tenures[i].Boat, Customer: l.tenures[i].Customer, LastDay: last,
			Paid: l.tenureFigure(h), Contact: contacts[h.Customer], Wished: wished[h.Boat+"\n"+h.Customer],
		}
		// A year at least: one dear repair is not a year's worth every month.
		days := max(365, int(last-max(h.From, l.Since))+1)
		a.Yearly = a.Paid.Cents * 365 / schedule.Cents(days)
		all = append(all, a)
	}
	slices.SortFunc(all, func(a, b Away) int {
		return cmp.Or(cmp.Compare(b.Yearly, a.Yearly), cmp.Compare(a.Boat.ID, b.Boat.ID))
	})
	return all, nil
}

// tenureFigure is all that a tenure with paid work brought.
func (l *Ledger) tenureFigure(h *returns.History) Figure {
	f := l.workFigure("", span{h.Comings[0].Day, h.Comings[len(h.Comings)-1].Day})
	f.List.Boat = h.Boat
	for _, c := range h.Comings {
		f.add(c.Lines, c.Paid)
	}
	return f
}

// AwayFigure counts boats that have lapsed, and what they were worth a year.
func AwayFigure(all []Away) Figure {
	f := Figure{List: Query{List: ListAway}}
	for i := range all {
		f.add(1, all[i].Yearly)
	}
	return f
}

// contacts are the customers' last contacts of any way.
func (l *Ledger) contacts(ctx context.Context) (map[string]report.Contact, error) {
	all, err := report.LastContacts(ctx, l.shop.DB, l.shop.Config.Zone())
	last := make(map[string]report.Contact)
	for _, c := range all {
		if c.Day > last[c.CustomerID].Day {
			last[c.CustomerID] = c
		}
	}
	return last, err
}

func (l *Ledger) wished(ctx context.Context) (map[string]bool, error) {
	all, err := report.CallRequests(ctx, l.shop.DB)
	set := make(map[string]bool, len(all))
	for _, w := range all {
		set[w.BoatID+"\n"+w.CustomerID] = true
	}
	return set, err
}

// listAway lists the boats that have lapsed; the total is what they were
// worth in a year.
func (l *Ledger) listAway(ctx context.Context, t *Table) error {
	t.Title = "Lapsed"
	t.About = "Boats in care, with paid work on record, of which no sale, record, reply, booking or reading is known since the winterization deadline before the last. By what they paid in a year while they came."
	t.Columns = columns("Last here:d", "Boat", "Boat id", "Customer", "Phone", "Last contact:d", "By", "On the call list", "Paid in all:m", "Worth a year:m")
	all, err := l.Away(ctx)
	if err != nil {
		return err
	}
	for i := range all {
		a := &all[i]
		if t.Query.Wished != "" && t.Query.Wished != yesNo(a.Wished) {
			continue
		}
		t.row(a.Boat.ID, a.LastDay, a.Boat.Title(), a.Boat.ID, a.Customer.Name, a.Customer.Phone, a.Contact.Day, a.Contact.Way, yesNo(a.Wished), a.Paid.Cents, a.Yearly)
	}
	return nil
}

// PutOnCallList puts the holder of a boat that has lapsed on the call list.
func (l *Ledger) PutOnCallList(ctx context.Context, w report.CallRequest) error {
	i := l.holder(w.BoatID, l.Today)
	if i < 0 {
		return store.ErrNotFound
	}
	w.CustomerID = l.histories[i].Customer
	if w.Why == "" {
		w.Why = "has not been here since " + l.shop.Config.Format().Date(l.lastDay[w.BoatID])
	}
	return l.shop.WishCall(ctx, w)
}
