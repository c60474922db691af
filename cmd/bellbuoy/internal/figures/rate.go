package figures

import (
	"cmp"
	"slices"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
)

// band is the level of every band and interval that the owner is shown.
const band = 0.95

// RateCell is one year of sale in one season.
type RateCell struct {
	Came Figure  `json:"returned"`
	Of   Figure  `json:"of"`
	Rate float64 `json:"rate"` // 0 to 1
	Low  float64 `json:"low"`
	High float64 `json:"high"` // Wilson's interval at 95 %
}

// RateRow is one year of sale.
type RateRow struct {
	Year  int        `json:"year"` // 0 for all years together
	Sold  Figure     `json:"sold"`
	Cells []RateCell `json:"cells"`
}

// Rates is the return rate by year of sale and season.
type Rates struct {
	Seasons []returns.Season `json:"seasons"`
	Rows    []RateRow        `json:"rows"` // by year, then all years together
}

// Rates counts which boats came back in which season.
func (l *Ledger) Rates() Rates {
	m := returns.ReturnMatrix(l.histories, l.First, l.Today)
	out := Rates{Seasons: m.Seasons}
	sold := 0
	for _, r := range m.Rows {
		sold += r.Sales
		out.Rows = append(out.Rows, rateRow(r.Year, r.Sales, m.Seasons, r.Cells))
	}
	out.Rows = append(out.Rows, rateRow(0, sold, m.Seasons, m.All))
	return out
}

func rateRow(year, sold int, seasons []returns.Season, shares []returns.Share) RateRow {
	row := RateRow{Year: year, Sold: Figure{Count: sold, List: Query{List: ListSold, Year: year}}}
	for i, s := range shares {
		of := Query{List: ListSales, Year: year, Season: seasons[i]}
		came := of
		came.Came = "yes"
		c := RateCell{Of: Figure{Count: s.Of, List: of}, Came: Figure{Count: s.Came, List: came}, Rate: s.Rate()}
		c.Low, c.High = s.Interval(band)
		row.Cells = append(row.Cells, c)
	}
	return row
}

// listSales lists the boats of a year of sale that could come in a season.
func (l *Ledger) listSales(t *Table) {
	t.Title = "Boats sold, and whether they came"
	t.About = "Boats sold before the season began and still with their buyer at its end, or today if it is running."
	t.Columns = columns("Sold on:d", "Boat", "Boat id", "Customer", "Kind", "Returned", "Days in:n", "Paid:m")
	season := t.Query.Season
	if season.Year == 0 {
		season = returns.SeasonOf(l.Today)
	}
	for i := range l.histories {
		h := &l.histories[i]
		came := yesNo(h.CameIn(season))
		if h.Sold == 0 || h.Sold > l.Today || !h.Chanced(season, l.Today) || t.Query.Year != 0 && h.Sold.Year() != t.Query.Year ||
			t.Query.Came != "" && t.Query.Came != came || t.Query.Kind != "" && t.Query.Kind != h.Kind {
			continue
		}
		days, paid := l.inSeason(h, season)
		t.row(h.Boat, h.Sold, l.tenures[i].Boat.Title(), h.Boat, l.tenures[i].Customer.Name, h.Kind, came, days, paid)
	}
}

// listSold lists the boats sold, of one year or of all.
func (l *Ledger) listSold(t *Table) {
	t.Title = "Boats sold"
	t.About = "Boats that the shop sold, each sale once, and what the buyer has paid for work on the boat since."
	t.Columns = columns("Sold on:d", "Boat", "Boat id", "Customer", "Kind", "With the buyer until:d", "Paid since:m")
	for i := range l.histories {
		h := &l.histories[i]
		if h.Sold == 0 || h.Sold > l.Today || t.Query.Year != 0 && h.Sold.Year() != t.Query.Year || t.Query.Kind != "" && t.Query.Kind != h.Kind {
			continue
		}
		t.row(h.Boat, h.Sold, l.tenures[i].Boat.Title(), h.Boat, l.tenures[i].Customer.Name, h.Kind, h.End, h.Paid())
	}
}

// inSeason is on how many days a tenure came in a season, and what it paid.
func (l *Ledger) inSeason(h *returns.History, s returns.Season) (days int, paid schedule.Cents) {
	for _, c := range h.Comings {
		if c.Day >= s.First() && c.Day <= s.Last() {
			days++
			paid += c.Paid
		}
	}
	return days, paid
}

// The two kinds of time that a sale is followed for.
const (
	spellFirst = "first" // to the first return
	spellLapse = "lapse" // to having stayed away for so long that it counts as lapsed
)

// Times are the survival curves of one kind of time.
type Times struct {
	Of     string      `json:"of"` // spellFirst or spellLapse
	All    TimeCurve   `json:"all"`
	ByKind []TimeCurve `json:"by_kind"` // by kind of boat, the most frequent first
	ByYear []TimeCurve `json:"by_year"` // by year of sale
}

// TimeCurve is one curve with the sales that it stands on.
type TimeCurve struct {
	Kind  string `json:"kind"`
	Year  int    `json:"year"`
	Sales Figure `json:"sales"`
	// Happened is those of them to which it has happened.
	Happened Figure        `json:"happened"`
	Curve    returns.Curve `json:"curve"`
}

// Times estimates the time to first return or to lapse. Sales before the oldest
// record are left out: nobody can tell when those first came back.
func (l *Ledger) Times(of string) Times {
	kinds, years := make(map[string][]returns.Spell), make(map[int][]returns.Spell)
	var all []returns.Spell
	for i := range l.histories {
		h := &l.histories[i]
		s, ok := l.spell(of, h)
		if !ok {
			continue
		}
		all = append(all, s)
		kinds[h.Kind] = append(kinds[h.Kind], s)
		years[h.Sold.Year()] = append(years[h.Sold.Year()], s)
	}
	curve := func(kind string, year int, spells []returns.Spell) TimeCurve {
		c := TimeCurve{Kind: kind, Year: year, Curve: returns.Survival(spells, band)}
		c.Sales = Figure{Count: len(spells), List: Query{List: ListSpells, Of: of, Kind: kind, Year: year}}
		c.Happened = Figure{Count: c.Curve.Events, List: c.Sales.List}
		c.Happened.List.Happened = "yes"
		return c
	}
	t := Times{Of: of, All: curve("", 0, all)}
	for k, s := range kinds {
		t.ByKind = append(t.ByKind, curve(k, 0, s))
	}
	for y, s := range years {
		t.ByYear = append(t.ByYear, curve("", y, s))
	}
	slices.SortFunc(t.ByKind, func(a, b TimeCurve) int {
		return cmp.Or(cmp.Compare(b.Sales.Count, a.Sales.Count), cmp.Compare(a.Kind, b.Kind))
	})
	slices.SortFunc(t.ByYear, func(a, b TimeCurve) int { return cmp.Compare(a.Year, b.Year) })
	return t
}

func (l *Ledger) spell(of string, h *returns.History) (returns.Spell, bool) {
	if h.Sold < l.Since {
		return returns.Spell{}, false
	}
	if of == spellLapse {
		return h.Lapse(l.Today)
	}
	return h.FirstReturn(l.Today)
}

// listSpells lists the times behind a curve.
func (l *Ledger) listSpells(t *Table) {
	of := cmp.Or(t.Query.Of, spellFirst)
	t.Title, t.About = "Time from the sale to the first return", "Sales since the oldest record. Where nothing has happened yet, the days are those waited so far, or until the boat was sold on or gone."
	if of == spellLapse {
		t.Title = "Time from the sale to having stayed away for " + strconv.Itoa(returns.LapseMonths) + " months"
	}
	t.Columns = columns("Sold on:d", "Boat", "Boat id", "Customer", "Kind", "Happened", "Days:n")
	for i := range l.histories {
		h := &l.histories[i]
		s, ok := l.spell(of, h)
		if !ok || t.Query.Kind != "" && t.Query.Kind != h.Kind || t.Query.Year != 0 && t.Query.Year != h.Sold.Year() || t.Query.Happened != "" && t.Query.Happened != yesNo(s.Event) {
			continue
		}
		t.row(h.Boat, h.Sold, l.tenures[i].Boat.Title(), h.Boat, l.tenures[i].Customer.Name, h.Kind, yesNo(s.Event), s.Days)
	}
}
