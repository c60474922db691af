package figures

import (
	"context"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/store/report"
)

// PartsAhead is what the parts of the visits in the coming shop weeks cost, as
// far as the shop's rules give buying prices.
type PartsAhead struct {
	To       civil.Week     `json:"to"`       // the last week that counts
	Whole    Figure         `json:"whole"`    // kinds of part, and their cost if every visit comes
	Expected schedule.Cents `json:"expected"` // each visit counting by its boat's chance
	Unpriced Figure         `json:"unpriced"` // kinds of part without a buying price
	Covered  schedule.Cents `json:"covered"`  // of the whole, what is in stock or on order
}

// countParts enters the parts into the weeks and the whole.
func (l *Ledger) countParts(ctx context.Context, w *Workload) error {
	now := l.Today.Week()
	jobs, err := report.JobsAhead(ctx, l.shop.DB, now, now+weeksShown)
	if err != nil {
		return err
	}
	chance := l.partChance()
	cost, err := l.shop.PartCost(ctx)
	if err != nil {
		return err
	}
	covered, err := l.partCovered(ctx, cost)
	if err != nil {
		return err
	}
	w.Parts = PartsAhead{To: now + weeksShown, Whole: Figure{List: Query{List: ListParts}}, Unpriced: Figure{List: Query{List: ListParts, Priced: "no"}}}
	for _, p := range l.shop.PartNeeds(jobs, cost, chance) {
		w.Parts.Whole.add(1, p.Cost)
		w.Parts.Expected += p.Expected
		if !p.Priced {
			w.Parts.Unpriced.add(1, p.Cost)
		}
		w.Parts.Covered += covered(&p.Part)
	}
	byWeek := make(map[civil.Week][]report.JobAhead)
	for _, j := range jobs {
		byWeek[j.Day().Week()] = append(byWeek[j.Day().Week()], j)
	}
	for i := range w.Weeks {
		for _, p := range l.shop.PartNeeds(byWeek[w.Weeks[i].Week], cost, chance) {
			w.Weeks[i].Parts.add(1, p.Cost)
		}
	}
	return nil
}

// partCovered tells what of a needed part is in stock or on order, at its cost.
func (l *Ledger) partCovered(ctx context.Context, cost func(*rules.Part) (schedule.Cents, bool)) (func(*rules.Part) schedule.Cents, error) {
	stocks, err := l.shop.PartStocks(ctx)
	return func(p *rules.Part) (sum schedule.Cents) {
		for _, s := range stocks {
			if has := min(s.InStock+s.OnOrder, p.Quantity); s.Code == p.Code && s.Unit == p.Unit && has > 0 {
				there := *p
				there.Quantity = has
				c, _ := cost(&there)
				sum += c
			}
		}
		return sum
	}, err
}

// partChance tells how likely a job is to be done: a booked one is sure, any
// other comes with its boat.
func (l *Ledger) partChance() func(*report.JobAhead) float64 {
	chances := l.chances()
	return func(j *report.JobAhead) float64 {
		i := l.holder(j.Visit.BoatID, l.Today)
		if j.Visit.Booked() || i < 0 {
			return 1
		}
		return chances.Of(&l.histories[i], max(j.Day(), l.Today))
	}
}

// listParts lists the parts that the visits of the coming weeks use up.
func (l *Ledger) listParts(ctx context.Context, t *Table) error {
	from, to := l.Today.Week(), l.Today.Week()+weeksShown
	t.Title = "Parts for the visits until " + l.shop.Config.Format().Date(to.Sunday())
	if t.Query.Week != 0 {
		from, to = max(from, t.Query.Week), min(to, t.Query.Week)
		t.Title = "Parts for the week of " + l.shop.Config.Format().Date(t.Query.Week.Monday())
	}
	t.About = "What the visits booked or penciled in use up by the catalog, at the price of the newest order, else of the shop's rules file; without a price the cost is left out. Expected is the cost with each visit counting by the chance that its boat comes. An estimate."
	t.Columns = columns("Code", "Part", "Quantity:n", "Unit", "Visits:n", "Priced", "In stock or on order:m", "Expected cost:m", "Cost:m")
	jobs, err := report.JobsAhead(ctx, l.shop.DB, from, to)
	if err != nil {
		return err
	}
	cost, err := l.shop.PartCost(ctx)
	if err != nil {
		return err
	}
	covered, err := l.partCovered(ctx, cost)
	if err != nil {
		return err
	}
	for _, p := range l.shop.PartNeeds(jobs, cost, l.partChance()) {
		if t.Query.Priced != "" && t.Query.Priced != yesNo(p.Priced) {
			continue
		}
		t.row("", p.Part.Code, p.Part.Name, strconv.FormatFloat(p.Part.Quantity, 'f', -1, 64), p.Part.Unit, len(p.Visits), yesNo(p.Priced), covered(&p.Part), p.Expected, p.Cost)
	}
	return nil
}
