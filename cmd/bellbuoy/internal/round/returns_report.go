package round

import (
	"context"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

// Report is everything that the owner is shown, as "returns --json" prints it:
// days YYYY-MM-DD, months YYYY-MM, seasons YYYY-spring or YYYY-autumn, money in
// cents, shares from 0 to 1, times in days, labour in minutes. The list of a
// figure is named as "returns --csv LIST --where FILTER" takes it, joined by a
// question mark.
type Report struct {
	Today   civil.Day     `json:"today"`
	Since   civil.Day     `json:"since"` // the oldest record
	Revenue *Revenue      `json:"revenue"`
	Season  *SeasonFunnel `json:"season"`
	Rates   Rates         `json:"rates"`
	First   Times         `json:"first"`
	Lapse   Times         `json:"lapse"`
	Ahead   *Expectation  `json:"ahead"`
	Away    Figure        `json:"away"`
	Work    *Workload     `json:"work"`
	Letter  *Letter       `json:"letter"`
}

// Report counts everything.
func (l *Ledger) Report(ctx context.Context) (*Report, error) {
	r := &Report{Today: l.Today, Since: l.Since, Rates: l.Rates(), First: l.Times(spellFirst), Lapse: l.Times(spellLapse)}
	away, err := l.Away(ctx)
	if err != nil {
		return nil, err
	}
	r.Away = AwayFigure(away)
	if r.Revenue, err = l.Revenue(ctx); err != nil {
		return nil, err
	}
	if r.Season, err = l.Funnel(ctx, returns.SeasonOf(l.Today)); err != nil {
		return nil, err
	}
	if r.Ahead, err = l.Expectation(ctx); err != nil {
		return nil, err
	}
	if r.Work, err = l.Workload(ctx); err != nil {
		return nil, err
	}
	r.Letter, err = l.Letter(ctx)
	return r, err
}
