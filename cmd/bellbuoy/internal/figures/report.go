package figures

import (
	"context"

	"golang.org/x/sync/errgroup"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// Report is everything that the owner is shown, as "returns --json" prints it:
// days YYYY-MM-DD, months YYYY-MM, seasons YYYY-spring or YYYY-autumn, money in
// cents, shares from 0 to 1, times in days, labour in minutes. The list of a
// figure is named as "returns --csv LIST --where FILTER" takes it, joined by a
// question mark.
type Report struct {
	Today         civil.Day      `json:"today"`
	Since         civil.Day      `json:"since"` // the oldest record
	Revenue       *Revenue       `json:"revenue"`
	Compare       *Comparison    `json:"compare"`
	Season        *SeasonFunnel  `json:"season"`
	Nudges        *Nudges        `json:"second_reminder"`
	Rates         Rates          `json:"rates"`
	First         Times          `json:"first"`
	Lapse         Times          `json:"lapse"`
	Ahead         *Expectation   `json:"ahead"`
	Away          Figure         `json:"lapsed"`
	Work          *Workload      `json:"work"`
	MonthlyReport *MonthlyReport `json:"report"`
}

// Report counts everything.
func (l *Ledger) Report(ctx context.Context) (*Report, error) {
	f, err := l.figures(ctx)
	if err != nil {
		return nil, err
	}
	compare, err := l.Comparison(ctx)
	if err != nil {
		return nil, err
	}
	nudges, err := l.Nudges(ctx)
	if err != nil {
		return nil, err
	}
	return &Report{
		Today: l.Today, Since: l.Since, Rates: l.Rates(), First: l.Times(spellFirst), Lapse: l.Times(spellLapse),
		Revenue: f.revenue, Compare: compare, Season: f.season, Nudges: nudges, Ahead: f.ahead, Away: AwayFigure(f.away), Work: f.work, MonthlyReport: l.letter(f),
	}, nil
}

// figures are what both the report and the letter are made from.
type figures struct {
	revenue *Revenue
	season  *SeasonFunnel
	ahead   *Expectation
	away    []Away
	work    *Workload
}

// figures counts them side by side: each reads for itself, and nothing of the
// ledger changes.
func (l *Ledger) figures(ctx context.Context) (*figures, error) {
	var f figures
	visits, err := report.AheadVisits(ctx, l.shop.DB)
	if err != nil {
		return nil, err
	}
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() (err error) { f.revenue, err = l.Revenue(ctx); return err })
	g.Go(func() (err error) { f.season, err = l.Funnel(ctx, returns.SeasonOf(l.Today)); return err })
	g.Go(func() (err error) { f.ahead, err = l.expectation(ctx, visits); return err })
	g.Go(func() (err error) { f.away, err = l.Away(ctx); return err })
	g.Go(func() (err error) { f.work, err = l.workload(ctx, visits); return err })
	return &f, g.Wait()
}
