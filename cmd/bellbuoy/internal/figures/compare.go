package figures

import (
	"cmp"
	"context"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// Comparison is the running season beside the same season of last year, to the same
// day of it.
type Comparison struct {
	Season    returns.Season `json:"season"`
	Last      returns.Season `json:"last"`
	Until     civil.Day      `json:"until"` // today, and
	LastUntil civil.Day      `json:"last_until"`
	Repeat    Pair           `json:"repeat"`
	Other     Pair           `json:"other"`
	Visits    Pair           `json:"visits"` // days of a boat with paid work
	NoShows   Pair           `json:"no_shows"`
	Hours     Pair           `json:"hours"` // sold, by the catalog
	// Available is the minutes that were there to sell on the days so far.
	Available [2]int `json:"available"`
	// Reminded is what came in this season after a reminder: boats, and what they paid.
	Reminded     Figure         `json:"reminded"`
	RemindedPaid schedule.Cents `json:"reminded_paid"`
	Splits       []Split        `json:"splits"`
}

// Pair is a figure of this season and of the last.
type Pair struct {
	Now    Figure `json:"now"`
	Before Figure `json:"before"`
}

// Average is an amount per visit, 0 without visits.
func (f Figure) Average() schedule.Cents {
	if f.Count == 0 {
		return 0
	}
	return f.Cents / schedule.Cents(f.Count)
}

// Split is the visits by one of their sides.
type Split struct {
	By   string     `json:"by"` // "technician", "kind", "make" or "place"
	Rows []SplitRow `json:"rows"`
}

// SplitRow is the visits of one technician, kind, make or place.
type SplitRow struct {
	Name string `json:"name"` // "" where it is not noted
	Pair
}

// The sides by which visits are split.
const (
	byTechnician = "technician"
	byKind       = "kind"
	byMake       = "make"
	byPlace      = "place"
)

// notNoted, in a query, asks for visits of which a side is not noted.
const notNoted = "-"

// side is one way to split visits: what a visit has of it, and where a query asks
// for it.
type side struct {
	by    string
	of    func(*doneVisit) string
	asked func(*Query) *string
}

var sides = []side{
	{byTechnician, func(v *doneVisit) string { return v.technician }, func(q *Query) *string { return &q.Technician }},
	{byKind, func(v *doneVisit) string { return v.hull.Kind }, func(q *Query) *string { return &q.Kind }},
	{byMake, func(v *doneVisit) string { return v.hull.Make }, func(q *Query) *string { return &q.Make }},
	{byPlace, func(v *doneVisit) string { return v.hull.Place }, func(q *Query) *string { return &q.Place }},
}

// doneVisit is a day of a boat with paid work.
type doneVisit struct {
	paidDay
	hull       schedule.Boat
	technician string
}

// assignedFor is for how many days after its booked day work counts as that visit's.
const assignedFor = 30

// doneVisits are the boats' days of paid work in a span, in order of day and boat.
func (l *Ledger) doneVisits(ctx context.Context, days span) ([]doneVisit, error) {
	given, err := report.Assignments(ctx, l.shop.DB)
	if err != nil {
		return nil, err
	}
	of := make(map[string][]report.Assignment)
	for _, a := range given {
		of[a.BoatID] = append(of[a.BoatID], a)
	}
	var all []doneVisit
	l.eachPaid(func(d paidDay) {
		if !days.holds(d.day) {
			return
		}
		v := doneVisit{paidDay: d}
		if n := l.ofBoat[d.boat]; len(n) > 0 {
			v.hull = l.tenures[n[0]].Boat
		}
		for _, a := range of[d.boat] {
			if a.Day <= d.day && d.day <= a.Day+assignedFor {
				v.technician = a.Technician
			}
		}
		all = append(all, v)
	})
	slices.SortFunc(all, func(a, b doneVisit) int { return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.boat, b.boat)) })
	return all, nil
}

// Comparison counts the running season and the same one of last year up to the same
// day.
func (l *Ledger) Comparison(ctx context.Context) (*Comparison, error) {
	s := returns.SeasonOf(l.Today)
	now := span{s.First(), l.Today}
	before := span{now.from.AddMonths(-12), now.to.AddMonths(-12)}
	c := &Comparison{
		Season: s, Last: returns.SeasonOf(before.from), Until: now.to, LastUntil: before.to,
		Repeat: Pair{l.workFigure("yes", now), l.workFigure("yes", before)}, Other: Pair{l.workFigure("no", now), l.workFigure("no", before)},
		Visits: pairOf(ListDone, now, before), NoShows: pairOf(ListNoShows, now, before), Hours: pairOf(ListHours, now, before),
	}
	for i, x := range []struct {
		days                                  span
		repeat, other, visits, noShows, hours *Figure
	}{
		{now, &c.Repeat.Now, &c.Other.Now, &c.Visits.Now, &c.NoShows.Now, &c.Hours.Now},
		{before, &c.Repeat.Before, &c.Other.Before, &c.Visits.Before, &c.NoShows.Before, &c.Hours.Before},
	} {
		visits, err := l.doneVisits(ctx, x.days)
		if err != nil {
			return nil, err
		}
		for j := range visits {
			v := &visits[j]
			if x.visits.add(1, v.paid); v.sale != 0 {
				x.repeat.add(v.lines, v.paid)
			} else {
				x.other.add(v.lines, v.paid)
			}
		}
		c.split(visits, i == 0, now, before)
		missed, err := report.NoShows(ctx, l.shop.DB, x.days.from, x.days.to)
		if err != nil {
			return nil, err
		}
		x.noShows.Count = len(missed)
		if c.Available[i], err = l.countHours(ctx, x.hours, x.days); err != nil {
			return nil, err
		}
	}
	c.order()
	return c, l.countReminded(ctx, c)
}

// pairOf is an empty pair over a list.
func pairOf(list string, now, before span) Pair {
	return Pair{Figure{List: Query{List: list, From: now.from, To: now.to}}, Figure{List: Query{List: list, From: before.from, To: before.to}}}
}

// split counts visits by each of their sides.
func (c *Comparison) split(visits []doneVisit, isNow bool, now, before span) {
	if c.Splits == nil {
		for _, side := range sides {
			c.Splits = append(c.Splits, Split{By: side.by})
		}
	}
	for i, side := range sides {
		rows := &c.Splits[i].Rows
		for j := range visits {
			name := side.of(&visits[j])
			k := slices.IndexFunc(*rows, func(r SplitRow) bool { return r.Name == name })
			if k < 0 {
				r := SplitRow{name, pairOf(ListDone, now, before)}
				*side.asked(&r.Now.List), *side.asked(&r.Before.List) = cmp.Or(name, notNoted), cmp.Or(name, notNoted)
				*rows, k = append(*rows, r), len(*rows)
			}
			f := &(*rows)[k].Now
			if !isNow {
				f = &(*rows)[k].Before
			}
			f.add(1, visits[j].paid)
		}
	}
}

// order puts the rows of each split in order of this season's money; what is not
// noted last.
func (c *Comparison) order() {
	for _, s := range c.Splits {
		slices.SortFunc(s.Rows, func(a, b SplitRow) int {
			if (a.Name == "") != (b.Name == "") {
				return cmp.Compare(b.Name, a.Name)
			}
			return cmp.Or(cmp.Compare(b.Now.Cents, a.Now.Cents), cmp.Compare(b.Before.Cents, a.Before.Cents), cmp.Compare(a.Name, b.Name))
		})
	}
}

// countHours counts the hours sold in a span, and returns the minutes there were to
// sell.
func (l *Ledger) countHours(ctx context.Context, f *Figure, days span) (available int, err error) {
	lines, err := l.timedWork(ctx, days)
	if err != nil {
		return 0, err
	}
	f.Count = len(lines)
	for i := range lines {
		f.Minutes += lines[i].Minutes
	}
	weeks, err := l.shop.Capacity(ctx, days.from.Week(), days.to.Week())
	for _, w := range weeks {
		for i, has := range w.Days {
			if days.holds(w.Week.Monday() + civil.Day(i)) {
				available += has[level.Labor]
			}
		}
	}
	return available, err
}

// countReminded counts what came in after a reminder.
func (l *Ledger) countReminded(ctx context.Context, c *Comparison) error {
	c.Reminded.List = Query{List: ListSeason, Season: c.Season, Step: anyStep, Reach: returns.Done.String()}
	all, err := l.passages(ctx, c.Season)
	for i := range all {
		if p := &all[i]; p.Step != "" && p.Reach() == returns.Done {
			c.Reminded.Count++
			c.Reminded.Cents += p.List
			c.RemindedPaid += p.Paid
		}
	}
	return err
}

// listDone lists visits: a boat's days with paid work.
func (l *Ledger) listDone(ctx context.Context, t *Table) error {
	t.Title = "Visits"
	t.About = "Days on which a boat had paid work of the shop, with who the day's list had given it to."
	t.Columns = columns("Day:d", "Boat", "Boat id", "Customer", "Technician", "Kind", "Make", "Place", "Amount:m")
	from, to := t.Query.spanOfDays()
	if to == 0 || to > l.Today {
		to = l.Today
	}
	visits, err := l.doneVisits(ctx, span{from, to})
	for i := range visits {
		v := &visits[i]
		if !v.asked(&t.Query) {
			continue
		}
		title, customer := l.names(v.boat, v.day)
		t.row(v.boat, v.day, title, v.boat, customer, v.technician, v.hull.Kind, v.hull.Make, v.hull.Place, v.paid)
	}
	return err
}

// asked reports whether a query's sides are those of the visit.
func (v *doneVisit) asked(q *Query) bool {
	for _, side := range sides {
		want, has := *side.asked(q), side.of(v)
		if want != "" && want != has && !(want == notNoted && has == "") {
			return false
		}
	}
	return true
}

// listNoShows lists booked days that passed without the boat.
func (l *Ledger) listNoShows(ctx context.Context, t *Table) error {
	t.Title = "No-shows"
	t.About = "Booked days that passed without the boat: nothing was recorded, and the booking was taken off some days later."
	t.Columns = columns("Day:d", "Boat", "Boat id", "Customer", "Visit")
	from, to := t.Query.spanOfDays()
	if to == 0 || to > l.Today {
		to = l.Today
	}
	all, err := report.NoShows(ctx, l.shop.DB, from, to)
	for _, x := range all {
		title, customer := l.names(x.BoatID, x.Day)
		t.row(x.BoatID, x.Day, title, x.BoatID, customer, schedule.VisitTitle(x.Kind))
	}
	return err
}
