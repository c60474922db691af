package figures

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// rangeLevel is the chance with which an expected amount falls into its range:
// four years in five.
const rangeLevel = 0.8

// AheadMonth is what a month may bring.
type AheadMonth struct {
	returns.Ahead
	Figure Figure `json:"figure"` // the visits and what they are expected to bring
}

// Expectation is the revenue of the next twelve months.
type Expectation struct {
	From        civil.Day           `json:"from"`
	To          civil.Day           `json:"to"` // both included
	Months      []AheadMonth        `json:"months"`
	Whole       AheadMonth          `json:"whole"`
	Calibration returns.Calibration `json:"calibration"`
	Reliability returns.Reliability `json:"reliability"` // of the chances given for past season visits
	Groups      []GroupChance       `json:"groups"`
}

// GroupChance is how likely boats of one group are to come in a season, without
// a history of their own.
type GroupChance struct {
	Half   returns.Half `json:"half"`
	Name   string       `json:"name"`
	Chance float64      `json:"chance"`
	Weight float64      `json:"weight"` // seasons of a boat's own that it is worth
}

// monthsAhead is how far ahead revenue is expected.
const monthsAhead = 12

// Expectation works out the next twelve months, the running one from today on.
func (l *Ledger) Expectation(ctx context.Context) (*Expectation, error) {
	visits, err := report.AheadVisits(ctx, l.shop.DB)
	if err != nil {
		return nil, err
	}
	return l.expectation(ctx, visits)
}

// expectation does so from the visits ahead.
func (l *Ledger) expectation(ctx context.Context, visits []report.AheadVisit) (*Expectation, error) {
	past, err := l.pastChances(ctx)
	if err != nil {
		return nil, err
	}
	cal := past.calibration
	due := l.due(visits, cal.Factor)
	e := &Expectation{From: l.Today, To: l.lastAhead(), Calibration: cal, Reliability: past.reliability}
	months, whole := returns.Outlook(due, l.Today, monthsAhead, cal.Miss, rangeLevel)
	for _, m := range months {
		e.Months = append(e.Months, AheadMonth{m, Figure{Count: m.Visits, Cents: m.Expected, List: Query{List: ListExpected, Month: m.Month}}})
	}
	e.Whole = AheadMonth{whole, Figure{Count: whole.Visits, Cents: whole.Expected, List: Query{List: ListExpected}}}
	for _, half := range []returns.Half{returns.Spring, returns.Autumn} {
		for _, name := range l.groups() {
			b := l.chances().Group(half, name)
			e.Groups = append(e.Groups, GroupChance{half, name, b.Mean(), b.Weight()})
		}
	}
	return e, nil
}

// lastAhead is the last day of the twelve months.
func (l *Ledger) lastAhead() civil.Day {
	return (returns.MonthOf(l.Today) + monthsAhead - 1).Last()
}

func (l *Ledger) groups() []string {
	var names []string
	for i := range l.histories {
		if g := l.histories[i].Group; !slices.Contains(names, g) {
			names = append(names, g)
		}
	}
	slices.Sort(names)
	return names
}

// due are the visits of the next twelve months with their chances. What is late
// already may come from today on.
func (l *Ledger) due(visits []report.AheadVisit, factor float64) []returns.Due {
	chances := l.chances()
	var all []returns.Due
	for i := range visits {
		v := &visits[i]
		d := returns.Due{Boat: v.BoatID, Visit: v.ID, Day: max(v.Day, l.Today), List: v.Price, Chance: 1, Factor: factor}
		at := l.holder(v.BoatID, l.Today)
		if at < 0 || d.Day > l.lastAhead() {
			continue
		}
		if !v.Booked {
			d.Chance = chances.Of(&l.histories[at], d.Day)
		}
		all = append(all, d)
	}
	return all
}

// listExpected lists the visits ahead.
func (l *Ledger) listExpected(ctx context.Context, t *Table) error {
	t.Title = "Visits expected"
	t.About = "Planned and booked visits of the next twelve months. Expected is the list price times the chance that the boat comes, times what past years brought for each expected " + l.money(100) + ". An estimate, not a promise."
	t.Columns = columns("Day:d", "Boat", "Boat id", "Customer", "Visit", "List price:m", "Chance:n", "Expected:m")
	past, err := l.pastChances(ctx)
	if err != nil {
		return err
	}
	visits, err := report.AheadVisits(ctx, l.shop.DB)
	if err != nil {
		return err
	}
	due := l.due(visits, past.calibration.Factor)
	slices.SortFunc(due, func(a, b returns.Due) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Visit, b.Visit))
	})
	from, to := t.Query.spanOfDays()
	for i := range due {
		d := &due[i]
		if d.Day < from || to != 0 && d.Day > to {
			continue
		}
		title, customer := l.names(d.Boat, l.Today)
		t.row(d.Boat, d.Day, title, d.Boat, customer, d.Visit, d.List, d.Chance, d.Expected())
	}
	return nil
}

// pastChances is what became of what was expected in past years and seasons.
type pastChances struct {
	calibration returns.Calibration
	reliability returns.Reliability
}

// pastChances are counted once for a ledger: past plans are of the books, too.
func (l *Ledger) pastChances(ctx context.Context) (*pastChances, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.past != nil {
		return l.past, nil
	}
	var p pastChances
	var err error
	if p.calibration, err = l.Calibration(ctx); err != nil {
		return nil, err
	}
	if p.reliability, err = l.reliability(ctx); err != nil {
		return nil, err
	}
	l.past = &p
	return &p, nil
}

// Calibration replays past years that began on 1 August: what was expected
// then, as kept by [App.Replay], against what the boats in care on that day
// were paid for in the twelve months that followed.
func (l *Ledger) Calibration(ctx context.Context) (returns.Calibration, error) {
	days, err := report.OutlookDays(ctx, l.shop.DB)
	if err != nil {
		return returns.Calibration{}, err
	}
	var years []returns.Replay
	for _, on := range days {
		end := on.AddMonths(12)
		if returns.SeasonOf(on).Half != returns.Autumn || end > l.Today+1 {
			continue
		}
		y := returns.Replay{On: on}
		if y.Expected, err = report.OutlookSum(ctx, l.shop.DB, on, end); err != nil {
			return returns.Calibration{}, err
		}
		for i := range l.histories {
			paid, _ := l.paidFrom(&l.histories[i], on, end)
			y.Came += paid
		}
		years = append(years, y)
	}
	return returns.Calibrate(years), nil
}

// reliability compares the chances given on the first day of each season that
// is over with what came in it.
func (l *Ledger) reliability(ctx context.Context) (returns.Reliability, error) {
	r := returns.NewReliability()
	return r, l.eachChance(ctx, func(_ returns.Season, v *report.OutlookVisit, tenure int, came bool) { r.Add(v.Chance, came) })
}

// eachChance calls fn for every season visit of a season that is over, with the
// tenure that it was planned for and whether it came.
func (l *Ledger) eachChance(ctx context.Context, fn func(s returns.Season, v *report.OutlookVisit, tenure int, came bool)) error {
	days, err := report.OutlookDays(ctx, l.shop.DB)
	if err != nil {
		return err
	}
	for _, on := range days {
		s := returns.SeasonOf(on)
		if s.First() != on || s.Last() >= l.Today || s == l.First {
			continue // before the first whole season nothing was known
		}
		visits, err := report.SeasonOutlook(ctx, l.shop.DB, on, SeasonKind(s), s.Year)
		if err != nil {
			return err
		}
		for j := range visits {
			if i := l.holder(visits[j].BoatID, on); i >= 0 {
				fn(s, &visits[j], i, l.histories[i].CameIn(s))
			}
		}
	}
	return nil
}

// chanceNames are the lower ends of the ranges of chance in percent, and "" for any.
func chanceNames() []string {
	names := []string{""}
	for _, b := range returns.NewReliability() {
		names = append(names, chanceName(b.Low))
	}
	return names
}

func chanceName(low float64) string { return strconv.Itoa(int(math.Round(100 * low))) }

// ChancesFigure counts the visits whose chance fell into a range, or those of them
// that returned.
func ChancesFigure(b returns.Bin, came bool) Figure {
	f := Figure{Count: b.Came.Of, List: Query{List: ListChances, Chance: chanceName(b.Low)}}
	if came {
		f.Count, f.List.Came = b.Came.Came, "yes"
	}
	return f
}

// listChances lists the chances that were given for past season visits.
func (l *Ledger) listChances(ctx context.Context, t *Table) error {
	t.Title = "Chances given, and boats that returned"
	t.About = "The season visits of each season that is over, as planned on its first day, with the chance given to the boat on that day."
	t.Columns = columns("Season began:d", "Boat", "Boat id", "Customer", "Visit", "Chance:n", "Returned")
	bins := returns.NewReliability()
	return l.eachChance(ctx, func(s returns.Season, v *report.OutlookVisit, tenure int, came bool) {
		if t.Query.Chance != "" && t.Query.Chance != chanceName(bins.Bin(v.Chance).Low) || t.Query.Came != "" && t.Query.Came != yesNo(came) {
			return
		}
		x := &l.tenures[tenure]
		t.row(v.BoatID, s.First(), x.Boat.Title(), v.BoatID, x.Customer.Name, v.VisitID, v.Chance, yesNo(came))
	})
}

// listForecast lists what was expected of each boat on the first of an August,
// beside what those in care on that day paid in the twelve months after.
func (l *Ledger) listForecast(ctx context.Context, t *Table) error {
	on := t.Query.From
	t.Title = "Forecast of " + l.shop.Config.Format().Date(on) + ", boat by boat"
	t.About = "What the plan of that day held for the twelve months after, at list price times the chance that the boat came, and what the boats in care on that day were paid for in those months."
	t.Columns = columns("Boat", "Boat id", "Customer", "List price × chance:m", "Paid:m")
	end := on.AddMonths(12)
	expected, err := report.OutlookByBoat(ctx, l.shop.DB, on, end)
	if err != nil {
		return err
	}
	for i := range l.histories {
		h := &l.histories[i]
		paid, inCare := l.paidFrom(h, on, end)
		_, planned := expected[h.Boat]
		if !inCare || !planned && paid == 0 {
			continue
		}
		t.row(h.Boat, l.tenures[i].Boat.Title(), h.Boat, l.tenures[i].Customer.Name, expected[h.Boat], paid)
		delete(expected, h.Boat)
	}
	for _, boat := range slices.Sorted(maps.Keys(expected)) {
		title, customer := l.names(boat, on)
		t.row(boat, title, boat, customer, expected[boat], schedule.Cents(0))
	}
	return nil
}

// paidFrom is what a tenure that was in care on a day paid from then to another,
// that one not included.
func (l *Ledger) paidFrom(h *returns.History, on, end civil.Day) (paid schedule.Cents, inCare bool) {
	if !h.Holds(on) || h.Sold > on {
		return 0, false
	}
	for _, c := range h.Comings {
		if c.Day >= on && c.Day < end {
			paid += c.Paid
		}
	}
	return paid, true
}
