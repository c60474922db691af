package figures

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// Revenue is what the shop's work brought, repeat service on boats that it sold
// against other work.
type Revenue struct {
	// From 1 January to today, and to the same day of the year before.
	Repeat       Figure `json:"repeat"`
	RepeatBefore Figure `json:"repeat_before"`
	Other        Figure `json:"other"`
	OtherBefore  Figure `json:"other_before"`
	// Whole seasons, the running one last, with their months.
	Seasons  []SeasonRevenue  `json:"seasons"`
	Services []ServiceRevenue `json:"services"` // repeat service this year, by amount
	Sales    []SaleRevenue    `json:"sales"`    // repeat service this year, by year of sale
}

// SeasonRevenue is one season's. Before is repeat service of the same season a year
// ago, to the same day if the season is running.
type SeasonRevenue struct {
	Season  returns.Season `json:"season"`
	Repeat  Figure         `json:"repeat"`
	Other   Figure         `json:"other"`
	Before  Figure         `json:"before"`
	Months  []MonthRevenue `json:"months"`
	Running bool           `json:"running"`
}

// MonthRevenue is one month's. Before is repeat service of the same month a
// year ago, to the same day if the month is running.
type MonthRevenue struct {
	Month   returns.Month `json:"month"`
	Repeat  Figure        `json:"repeat"`
	Other   Figure        `json:"other"`
	Before  Figure        `json:"before"`
	Running bool          `json:"running"`
}

// ServiceRevenue is repeat service of one kind of work.
type ServiceRevenue struct {
	Service string `json:"service"`
	Title   string `json:"title"`
	Now     Figure `json:"now"`
	Before  Figure `json:"before"`
}

// SaleRevenue is repeat service on the boats sold in one year.
type SaleRevenue struct {
	Year   int    `json:"year"`
	Now    Figure `json:"now"`
	Before Figure `json:"before"`
}

// seasonsShown is how many seasons the revenue is shown for: two years and the
// running season.
const seasonsShown = 5

// Revenue adds up what was paid, once for a ledger.
func (l *Ledger) Revenue(ctx context.Context) (*Revenue, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.revenue != nil {
		return l.revenue, nil
	}
	r, err := l.countRevenue(ctx)
	if err == nil {
		l.revenue = r
	}
	return r, err
}

func (l *Ledger) countRevenue(ctx context.Context) (*Revenue, error) {
	year, before := l.yearToDate()
	r := &Revenue{
		Repeat: l.workFigure("yes", year), RepeatBefore: l.workFigure("yes", before),
		Other: l.workFigure("no", year), OtherBefore: l.workFigure("no", before),
	}
	r.Seasons = l.seasons()
	sales := make(map[int]*SaleRevenue)
	l.eachPaid(func(d paidDay) {
		r.count(d, year, before)
		if d.sale != 0 && (year.holds(d.day) || before.holds(d.day)) {
			l.countSale(sales, d, year, before)
		}
	})
	for _, s := range sales {
		r.Sales = append(r.Sales, *s)
	}
	slices.SortFunc(r.Sales, func(a, b SaleRevenue) int { return cmp.Compare(a.Year, b.Year) })
	return r, l.countServices(ctx, r, year, before)
}

// span is a run of days, both ends included.
type span struct{ from, to civil.Day }

func (s span) holds(d civil.Day) bool { return d >= s.from && d <= s.to }

// yearToDate is this year up to today, and last year up to the same day.
func (l *Ledger) yearToDate() (now, before span) {
	now = span{civil.Of(l.Today.Year(), time.January, 1), l.Today}
	return now, span{now.from.AddMonths(-12), now.to.AddMonths(-12)}
}

// workFigure is an empty figure over the paid work of some days.
func (l *Ledger) workFigure(sold string, days span) Figure {
	return Figure{List: Query{List: ListWork, Sold: sold, From: days.from, To: days.to}}
}

// seasons are the seasons shown, empty.
func (l *Ledger) seasons() []SeasonRevenue {
	s := returns.SeasonOf(l.Today)
	s.Year -= seasonsShown / 2
	if s.Before(l.First) {
		s = l.First
	}
	var all []SeasonRevenue
	for ; s.First() <= l.Today; s = s.Next() {
		sr := SeasonRevenue{Season: s, Running: s.Last() > l.Today}
		sr.Before.List = Query{List: ListWork, Sold: "yes", Season: returns.Season{Year: s.Year - 1, Half: s.Half}}
		if sr.Running {
			sr.Before.List.To = l.Today.AddMonths(-12)
		}
		sr.Repeat.List = Query{List: ListWork, Sold: "yes", Season: s}
		sr.Other.List = Query{List: ListWork, Sold: "no", Season: s}
		for m := returns.MonthOf(s.First()); m <= returns.MonthOf(s.Last()) && m.First() <= l.Today; m++ {
			mr := MonthRevenue{Month: m, Running: m.Last() > l.Today}
			mr.Repeat.List = Query{List: ListWork, Sold: "yes", Month: m}
			mr.Other.List = Query{List: ListWork, Sold: "no", Month: m}
			mr.Before.List = Query{List: ListWork, Sold: "yes", Month: m - 12}
			if mr.Running {
				mr.Before.List.To = l.Today.AddMonths(-12)
			}
			sr.Months = append(sr.Months, mr)
		}
		all = append(all, sr)
	}
	return all
}

// count puts a paid day into every figure that it belongs to.
func (r *Revenue) count(d paidDay, year, before span) {
	pick := func(repeat, other *Figure) *Figure {
		if d.sale != 0 {
			return repeat
		}
		return other
	}
	if year.holds(d.day) {
		pick(&r.Repeat, &r.Other).add(d.lines, d.paid)
	}
	if before.holds(d.day) {
		pick(&r.RepeatBefore, &r.OtherBefore).add(d.lines, d.paid)
	}
	month := returns.MonthOf(d.day)
	if s, m := r.month(month); m != nil {
		pick(&s.Repeat, &s.Other).add(d.lines, d.paid)
		pick(&m.Repeat, &m.Other).add(d.lines, d.paid)
	}
	if s, m := r.month(month + 12); m != nil && d.sale != 0 {
		if to := m.Before.List.To; to == 0 || d.day <= to {
			m.Before.add(d.lines, d.paid)
			s.Before.add(d.lines, d.paid)
		}
	}
}

// monthsInSeason is the length of a season.
const monthsInSeason = 6

// month finds a month and its season among those shown, nil if it is not.
func (r *Revenue) month(m returns.Month) (*SeasonRevenue, *MonthRevenue) {
	if len(r.Seasons) == 0 {
		return nil, nil
	}
	at := int(m - returns.MonthOf(r.Seasons[0].Season.First()))
	if at < 0 || at/monthsInSeason >= len(r.Seasons) {
		return nil, nil
	}
	s := &r.Seasons[at/monthsInSeason]
	if at %= monthsInSeason; at >= len(s.Months) {
		return nil, nil
	}
	return s, &s.Months[at]
}

func (l *Ledger) countSale(sales map[int]*SaleRevenue, d paidDay, year, before span) {
	s := sales[d.sale]
	if s == nil {
		s = &SaleRevenue{Year: d.sale, Now: l.workFigure("yes", year), Before: l.workFigure("yes", before)}
		s.Now.List.Year, s.Before.List.Year = d.sale, d.sale
		sales[d.sale] = s
	}
	if year.holds(d.day) {
		s.Now.add(d.lines, d.paid)
	} else {
		s.Before.add(d.lines, d.paid)
	}
}

func (l *Ledger) countServices(ctx context.Context, r *Revenue, year, before span) error {
	byCode := make(map[string]*ServiceRevenue)
	for _, days := range []span{year, before} {
		work, err := l.serviceDays(ctx, days)
		if err != nil {
			return err
		}
		for i := range work {
			if l.sale(work[i].BoatID, work[i].Day) == 0 {
				continue
			}
			for _, x := range work[i].Lines {
				sr := byCode[x.Service]
				if sr == nil {
					sr = &ServiceRevenue{
						Service: x.Service, Title: l.shop.Planner.Catalogue().ServiceTitle(x.Service),
						Now: l.workFigure("yes", year), Before: l.workFigure("yes", before),
					}
					sr.Now.List.Service, sr.Before.List.Service = x.Service, x.Service
					byCode[x.Service] = sr
				}
				if days == year {
					sr.Now.add(1, x.Paid)
				} else {
					sr.Before.add(1, x.Paid)
				}
			}
		}
	}
	for _, s := range byCode {
		r.Services = append(r.Services, *s)
	}
	slices.SortFunc(r.Services, func(a, b ServiceRevenue) int {
		return cmp.Or(cmp.Compare(b.Now.Cents, a.Now.Cents), cmp.Compare(b.Before.Cents, a.Before.Cents), cmp.Compare(a.Service, b.Service))
	})
	return nil
}

// serviceDays reads paid work line by line, once for a ledger.
func (l *Ledger) serviceDays(ctx context.Context, days span) ([]report.ServiceDay, error) {
	if kept, ok := l.services[days]; ok {
		return kept, nil
	}
	work, err := report.ServiceDays(ctx, l.shop.DB, days.from, days.to, nil)
	if err == nil {
		l.services[days] = work
	}
	return work, err
}

// listWork lists lines of paid work.
func (l *Ledger) listWork(ctx context.Context, t *Table) error {
	t.Title = "Paid work"
	t.About = "Lines of the shop's work with an amount. Repeat service is work on a boat that the shop sold to the customer who has it, after the day of the sale."
	t.Columns = columns("Day:d", "Boat", "Boat id", "Customer", "Service", "Repeat service", "Sold in:n", "Amount:m")
	from, to := t.Query.spanOfDays()
	if to == 0 || to > l.Today {
		to = l.Today
	}
	lines, err := report.ShopLines(ctx, l.shop.DB, from, to, t.Query.Service, t.Query.Boat)
	if err != nil {
		return err
	}
	for _, x := range lines {
		sale := l.sale(x.BoatID, x.Day)
		repeat := yesNo(sale != 0)
		if x.Amount <= 0 || t.Query.Sold != "" && t.Query.Sold != repeat || t.Query.Year != 0 && t.Query.Year != sale {
			continue
		}
		title, customer := l.names(x.BoatID, x.Day)
		year := ""
		if sale != 0 {
			year = fmt.Sprint(sale)
		}
		t.row(x.BoatID, x.Day, title, x.BoatID, customer, l.shop.Planner.Catalogue().ServiceTitle(x.Service), repeat, year, x.Amount)
	}
	return nil
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
