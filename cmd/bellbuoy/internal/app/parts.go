package app

import (
	"cmp"
	"context"
	"math"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/store/report"
)

// PartNeed is a part with the whole quantity that the coming visits use up,
// and those visits. Parts of one code and unit are added up.
type PartNeed struct {
	Part   rules.Part
	Visits []schedule.Visit
	Cost   schedule.Cents // what the quantity costs the shop
	Priced bool           // the shop's rules say what it costs
	// Expected is the cost with each visit counting by the chance that its boat
	// comes; only the owner's figures work it out.
	Expected schedule.Cents
}

// Parts adds up what the visits of the next weeks, this one included, will use.
func (a *App) Parts(ctx context.Context, today civil.Day, weeks int) ([]PartNeed, error) {
	jobs, err := report.JobsAhead(ctx, a.DB, today.Week(), today.Week()+civil.Week(weeks-1))
	if err != nil {
		return nil, err
	}
	cost, err := a.PartCost(ctx)
	return a.PartNeeds(jobs, cost, func(*report.JobAhead) float64 { return 1 }), err
}

// PartCost tells what a quantity of a part costs the shop, and whether that is known:
// by the newest order that says it, else by the shop's rules.
func (a *App) PartCost(ctx context.Context) (func(*rules.Part) (schedule.Cents, bool), error) {
	stocks, err := a.PartStocks(ctx)
	return func(p *rules.Part) (schedule.Cents, bool) {
		for i := range stocks {
			if s := &stocks[i]; s.Code == p.Code && s.Unit == p.Unit && s.Cost > 0 {
				return schedule.Cents(math.Round(p.Quantity * float64(s.Cost))), true
			}
		}
		return a.Planner.Catalogue().CostOf(p)
	}, err
}

// PartNeeds adds up the parts of some jobs. chance is how likely a job is to be
// done at all, 0 to 1.
func (a *App) PartNeeds(jobs []report.JobAhead, costOf func(*rules.Part) (schedule.Cents, bool), chance func(*report.JobAhead) float64) []PartNeed {
	type key struct{ code, unit string }
	need := make(map[key]*PartNeed)
	ofRule := make(map[string][]rules.Part) // what a follow-up or a dropped rule uses is not known
	for _, r := range a.Planner.Catalogue().Rules {
		ofRule[r.Code] = r.Parts
	}
	for i := range jobs {
		for _, p := range ofRule[jobs[i].Rule] {
			k := key{p.Code, p.Unit}
			n := need[k]
			if n == nil {
				n = &PartNeed{Part: rules.Part{Code: p.Code, Name: p.Name, Unit: p.Unit}}
				need[k] = n
			}
			n.Part.Add(p.Quantity)
			n.Visits = append(n.Visits, jobs[i].Visit)
			// To the cent job by job, so that weeks sum to the whole.
			cost, priced := costOf(&p)
			n.Priced = priced
			n.Cost += cost
			n.Expected += schedule.Cents(math.Round(float64(cost) * chance(&jobs[i])))
		}
	}
	out := make([]PartNeed, 0, len(need))
	for _, n := range need {
		slices.SortFunc(n.Visits, func(x, y schedule.Visit) int { return cmp.Compare(x.ID, y.ID) })
		n.Visits = slices.CompactFunc(n.Visits, func(x, y schedule.Visit) bool { return x.ID == y.ID })
		out = append(out, *n)
	}
	slices.SortFunc(out, func(x, y PartNeed) int {
		return cmp.Or(cmp.Compare(x.Part.Code, y.Part.Code), cmp.Compare(x.Part.Unit, y.Part.Unit))
	})
	return out
}
