package app

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// PartLine is a part that the coming weeks need, with what is there and on its way.
type PartLine struct {
	PartNeed
	First civil.Day // on which it is first needed
	store.PartStock
	ToOrder float64 // what is neither in stock nor on order
}

// PartLines are the parts that the visits of the next weeks use up, this week
// included.
func (a *App) PartLines(ctx context.Context, today civil.Day, weeks int) ([]PartLine, error) {
	needs, err := a.Parts(ctx, today, weeks)
	if err != nil {
		return nil, err
	}
	all, err := a.PartStocks(ctx)
	if err != nil {
		return nil, err
	}
	type key struct{ code, unit string }
	stocks := make(map[key]store.PartStock, len(all))
	for _, s := range all {
		stocks[key{s.Code, s.Unit}] = s
	}
	out := make([]PartLine, len(needs))
	for i, n := range needs {
		l := PartLine{PartNeed: n, PartStock: stocks[key{n.Part.Code, n.Part.Unit}]}
		for j := range n.Visits {
			from, _ := n.Visits[j].SpanOn()
			if l.First == 0 || from < l.First {
				l.First = from
			}
		}
		l.ToOrder = max(0, math.Round((n.Part.Quantity-l.InStock-l.OnOrder)*100)/100)
		out[i] = l
	}
	return out, nil
}

// PartStocks is [store.Reader.PartStocks] in the shop's units: what was ordered by the
// liter before the shop counted in gallons is one part with what came after.
func (a *App) PartStocks(ctx context.Context) ([]store.PartStock, error) {
	all, err := a.DB.PartStocks(ctx)
	out := make([]store.PartStock, 0, len(all))
	for _, s := range all {
		unit, each := a.Config.Format().Unit(s.Unit)
		if unit != s.Unit {
			s.Unit, s.Cost = unit, schedule.Cents(math.Round(float64(s.Cost)/each))
			s.InStock, s.OnOrder = math.Round(s.InStock*each*1000)/1000, math.Round(s.OnOrder*each*1000)/1000
		}
		i := slices.IndexFunc(out, func(o store.PartStock) bool { return o.Code == s.Code && o.Unit == s.Unit })
		if i < 0 {
			out = append(out, s)
			continue
		}
		o := &out[i]
		o.InStock, o.OnOrder = o.InStock+s.InStock, o.OnOrder+s.OnOrder
		o.Supplier, o.Cost = cmp.Or(o.Supplier, s.Supplier), cmp.Or(o.Cost, s.Cost)
	}
	return out, err
}

// OrderParts writes orders down, as [store.DB.OrderParts] does.
func (a *App) OrderParts(ctx context.Context, now time.Time, actor, form string, orders []store.PartOrder) error {
	return a.db.OrderParts(ctx, now, actor, form, orders)
}

// ReceiveOrder notes that an order came in, or with day 0 that it did not.
func (a *App) ReceiveOrder(ctx context.Context, now time.Time, actor string, id int64, day civil.Day) error {
	return a.db.ReceiveOrder(ctx, now, actor, id, day)
}

// CancelOrder takes an order back.
func (a *App) CancelOrder(ctx context.Context, now time.Time, actor string, id int64) error {
	return a.db.CancelOrder(ctx, now, actor, id)
}
