package figures

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/outbox"
)

// nudgeDays is for how many days after the lot a customer is watched: the nudge
// comes three weeks before the visit, and most who are late come within the two
// months after it. Common practice, no source.
const nudgeDays = 120

// reminderDays is the span, to today, in which a customer's reminders are counted.
const reminderDays = 365

// Nudges is what nudges bring, by comparing customers who got theirs with those
// who by lot got none. Customers whose boats were drawn in one season count
// once.
type Nudges struct {
	Percent int             `json:"percent"` // held back at present, of a hundred
	Days    int             `json:"days"`    // for which a customer is watched
	Seasons []HoldoutSeason `json:"seasons"`
	Whole   HoldoutSeason   `json:"whole"` // its season is none
	Open    Figure          `json:"open"`  // customers whose days are not over and who do not count yet
	// Year is how many reminders customers got in the twelve months to today, and
	// Cap the most that one may get in a calendar year, 0 for no cap.
	Year notify.Spread `json:"year"`
	Cap  int           `json:"yearly_cap"`
}

// HoldoutSeason is what came of the lots of a season.
type HoldoutSeason struct {
	Season   returns.Season `json:"season"`
	Notified HoldoutSide    `json:"reminded"`
	Held     HoldoutSide    `json:"comparison"`
	// By how much more of those who heard came, from -1 to 1, and by how many
	// cents more each of them paid, with intervals at 95 %.
	CameMore returns.Effect `json:"returned_more"`
	PaidMore returns.Effect `json:"paid_more"`
}

// HoldoutSide is the customers on one side, with what they paid.
type HoldoutSide struct {
	All  Figure  `json:"all"`
	Came Figure  `json:"returned"`
	Rate float64 `json:"rate"`
}

// drawn is one customer's lot of a season and what came of it.
type drawn struct {
	season   returns.Season
	customer int // a tenure of theirs
	on       civil.Day
	held     bool
	boats    []string
	paid     schedule.Cents
	came     bool
	open     bool
}

// Nudges compares the two sides.
func (l *Ledger) Nudges(ctx context.Context) (*Nudges, error) {
	all, err := l.drawn(ctx)
	if err != nil {
		return nil, err
	}
	out := &Nudges{Percent: l.shop.Config.Reminders.HoldOutPercent, Days: nudgeDays, Open: Figure{List: Query{List: ListNudges, Fate: checkOpen}}}
	bySeason := make(map[returns.Season][]drawn)
	for _, d := range all {
		if d.open {
			out.Open.add(1, d.paid)
		} else {
			bySeason[d.season] = append(bySeason[d.season], d)
		}
	}
	var lots []returns.Assignment
	var closed []drawn
	for _, season := range slices.SortedFunc(maps.Keys(bySeason), func(a, b returns.Season) int { return cmp.Compare(a.First(), b.First()) }) {
		of := bySeason[season]
		x := lotSides(of)
		lots, closed = append(lots, x), append(closed, of...)
		out.Seasons = append(out.Seasons, lotSeason(season, of, []returns.Assignment{x}))
	}
	out.Whole = lotSeason(returns.Season{}, closed, lots)
	each, err := outbox.RemindersOf(ctx, l.shop.DB, l.Today-reminderDays, l.Today)
	if err != nil {
		return nil, err
	}
	days := make([]int, len(each))
	for i := range each {
		days[i] = each[i].Days
	}
	out.Year, out.Cap = notify.SpreadOf(days), l.shop.Config.Reminders.YearlyCap
	return out, nil
}

// lotSides counts the two sides of one drawing.
func lotSides(of []drawn) returns.Assignment {
	var x returns.Assignment
	for _, d := range of {
		if d.held {
			x.Held.Add(d.came, d.paid)
		} else {
			x.Notified.Add(d.came, d.paid)
		}
	}
	return x
}

// lotSeason makes the figures of a season, or of all.
func lotSeason(s returns.Season, of []drawn, lots []returns.Assignment) HoldoutSeason {
	out := HoldoutSeason{Season: s, CameMore: returns.CameMore(lots, band), PaidMore: returns.PaidMore(lots, band)}
	for held, side := range map[string]*HoldoutSide{"no": &out.Notified, "yes": &out.Held} {
		side.All.List = Query{List: ListNudges, Season: s, Held: held}
		side.Came.List = Query{List: ListNudges, Season: s, Held: held, Came: "yes"}
		for _, d := range of {
			if yesNo(d.held) != held {
				continue
			}
			side.All.add(1, d.paid)
			if d.came {
				side.Came.add(1, d.paid)
			}
		}
		side.Rate = returns.Share{Came: side.Came.Count, Of: side.All.Count}.Rate()
	}
	return out
}

// drawn gathers the lots by customer and season, in order of day and customer.
func (l *Ledger) drawn(ctx context.Context) ([]drawn, error) {
	draws, err := outbox.Holdouts(ctx, l.shop.DB, nil)
	if err != nil {
		return nil, err
	}
	var all []drawn
	for _, of := range draws {
		bySeason := make(map[returns.Season]int)
		for _, w := range of {
			i := l.tenureOf(w.BoatID, w.CustomerID)
			if w.On > l.Today || i < 0 {
				continue
			}
			s := returns.SeasonOf(w.On)
			at, known := bySeason[s]
			if !known {
				at = len(all)
				bySeason[s] = at
				// The first lot of a season says on which side its customer is.
				all = append(all, drawn{season: s, customer: i, on: w.On, held: w.Held, open: w.On+nudgeDays > l.Today})
			}
			l.watch(&all[at], i)
		}
	}
	slices.SortFunc(all, func(a, b drawn) int {
		return cmp.Or(cmp.Compare(a.on, b.on), cmp.Compare(l.histories[a.customer].Customer, l.histories[b.customer].Customer))
	})
	return all, nil
}

// watch counts what a drawn boat brought in the days after its customer's lot.
func (l *Ledger) watch(d *drawn, tenure int) {
	h := &l.histories[tenure]
	if slices.Contains(d.boats, h.Boat) {
		return
	}
	d.boats = append(d.boats, h.Boat)
	for _, c := range h.Comings {
		if c.Day >= d.on && c.Day < d.on+nudgeDays {
			d.came = true
			d.paid += c.Paid
		}
	}
}

// tenureOf finds a customer's time with a boat, the latest if there are more;
// -1 if there is none.
func (l *Ledger) tenureOf(boat, customer string) int {
	for _, i := range slices.Backward(l.ofBoat[boat]) {
		if l.histories[i].Customer == customer {
			return i
		}
	}
	return -1
}

// ReminderList is the list of the customers that [Nudges.Year] counts.
func (n *Nudges) ReminderList() Query { return Query{List: ListReminded} }

// listReminded lists the customers who were reminded by email lately.
func (l *Ledger) listReminded(ctx context.Context, t *Table) error {
	t.Title = "Customers reminded by email"
	t.About = "Customers who got reminders by email in the last twelve months, and on how many days. Confirmations and reminders of a booked day are not counted."
	t.Columns = columns("Customer", "Customer id", "Days:n")
	all, err := outbox.RemindersOf(ctx, l.shop.DB, l.Today-reminderDays, l.Today)
	for _, r := range all {
		t.row("", r.Name, r.CustomerID, r.Days)
	}
	return err
}

// listNudges lists the customers whose lots were drawn.
func (l *Ledger) listNudges(ctx context.Context, t *Table) error {
	t.Title = "Second reminders and comparison group"
	t.About = "Customers whose second reminder came due while there was a comparison group that got none, once for each season, and what their boats brought in the days that followed. Those whose days are not over are in a list of their own."
	t.Columns = columns("Reminder due on:d", "Boat", "Boat id", "Customer", "Season", "Comparison group", "Returned", "Paid:m")
	all, err := l.drawn(ctx)
	if err != nil {
		return err
	}
	for i := range all {
		d := &all[i]
		if d.open != (t.Query.Fate == checkOpen) || t.Query.Season.Year != 0 && t.Query.Season != d.season ||
			t.Query.Held != "" && t.Query.Held != yesNo(d.held) || t.Query.Came != "" && t.Query.Came != yesNo(d.came) {
			continue
		}
		x := &l.tenures[d.customer]
		t.row(d.boats[0], d.on, x.Boat.Title(), strings.Join(d.boats, " "), x.Customer.Name, d.season.Title(), yesNo(d.held), yesNo(d.came), d.paid)
	}
	return nil
}
