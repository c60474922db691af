package owner

import (
	"context"
	"fmt"
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/chart"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
	"bellbuoy/schedule/words"
)

// ownerSVG draws one of the owner's pictures. Each has its figures as a table
// on the same page.
func (s pages) ownerSVG(r *http.Request) (chart.Chart, error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return chart.Chart{}, err
	}
	return ownerChart(r.Context(), l, r.PathValue("name"), s.Format())
}

func ownerChart(ctx context.Context, l *figures.Ledger, name string, in words.Format) (chart.Chart, error) {
	switch name {
	case "money":
		rev, err := l.Revenue(ctx)
		if err != nil {
			return chart.Chart{}, err
		}
		return moneyChart(rev, in), nil
	case "rates":
		return ratesChart(l.Rates(), returns.SeasonOf(l.Today)), nil
	case "first", "lapse":
		return curveChart(l.Times(name).All.Curve, map[string]string{"first": "Boats not back yet", "lapse": "Boats that have never stayed away"}[name]), nil
	case "ahead":
		e, err := l.Expectation(ctx)
		if err != nil {
			return chart.Chart{}, err
		}
		return aheadChart(e, in), nil
	case "work":
		w, err := l.Workload(ctx)
		if err != nil {
			return chart.Chart{}, err
		}
		return workChart(w, in), nil
	}
	return chart.Chart{}, site.NotFound("There is no such picture.")
}

// thousands is an amount in thousands, as charts show it.
func thousands(c schedule.Cents) float64 { return float64(c) / 100_000 }

func moneyChart(r *figures.Revenue, in words.Format) chart.Chart {
	var repeat, other []chart.Point
	var labels []string
	for _, s := range r.Seasons {
		for _, m := range s.Months {
			x := float64(len(labels))
			repeat = append(repeat, chart.Point{X: x, Y: thousands(m.Repeat.Cents), Open: m.Running})
			other = append(other, chart.Point{X: x, Y: thousands(m.Other.Cents), Open: m.Running})
			labels = append(labels, m.Month.Short())
		}
	}
	c := site.RowChart("Paid work by month", "thousand "+in.Sign(), labels)
	c.Series = []chart.Series{
		{Name: "repeat service", Kind: chart.Bars, Ink: chart.Strong, Points: repeat},
		{Name: "other work", Kind: chart.Bars, Ink: chart.Pale, Points: other},
	}
	return c
}

func aheadChart(e *figures.Expectation, in words.Format) chart.Chart {
	var values, ranges []chart.Point
	var labels []string
	for i, m := range e.Months {
		values = append(values, chart.Point{X: float64(i), Y: thousands(m.Expected)})
		ranges = append(ranges, chart.Point{X: float64(i), Low: thousands(m.Low), High: thousands(m.High)})
		labels = append(labels, m.Month.Short())
	}
	c := site.RowChart("Work expected by month", "thousand "+in.Sign(), labels)
	c.Series = []chart.Series{
		{Name: "expected, an estimate", Kind: chart.Bars, Ink: chart.Pale, Points: values},
		{Name: "likely range", Kind: chart.Ranges, Ink: chart.Doubt, Points: ranges},
	}
	return c
}

func workChart(w *figures.Workload, in words.Format) chart.Chart {
	var sold, pencilled, room []chart.Point
	var labels []string
	for i, x := range w.Weeks {
		at := float64(i)
		sold = append(sold, chart.Point{X: at, Y: float64(x.Sold.Minutes+x.Booked) / 60})
		pencilled = append(pencilled, chart.Point{X: at, Y: float64(x.Ahead.Minutes-x.Booked) / 60})
		room = append(room, site.Steady(at, x.Capacity)...)
		labels = append(labels, in.ShortMonthDay(x.Week.Monday()))
	}
	c := site.RowChart("Labor sold and planned by week", "hours", labels)
	c.Series = []chart.Series{
		{Name: "sold (an estimate) or booked", Kind: chart.Bars, Ink: chart.Strong, Points: sold},
		{Name: "penciled in", Kind: chart.Bars, Ink: chart.Pale, Points: pencilled},
		{Name: "available", Kind: chart.Line, Ink: chart.Limit, Points: room},
	}
	return c
}

// ratesChart draws the return rate of all years of sale by season, with its
// interval. The running season is not over, so its rate so far is none to draw.
func ratesChart(r figures.Rates, running returns.Season) chart.Chart {
	var labels []string
	var rate []chart.Point
	if len(r.Rows) > 0 {
		for i, c := range r.Rows[len(r.Rows)-1].Cells {
			if r.Seasons[i] == running {
				continue
			}
			rate = append(rate, chart.Point{X: float64(i), Y: 100 * c.Rate, Low: 100 * c.Low, High: 100 * c.High})
			labels = append(labels, r.Seasons[i].Title())
		}
	}
	c := site.RowChart("Boats that returned by season", "% of boats that returned", labels)
	c.Least = 100
	c.Series = banded(rate, "all years of sale", "95% interval")
	return c
}

// banded is a line with the band of its uncertainty.
func banded(points []chart.Point, name, band string) []chart.Series {
	return []chart.Series{
		{Name: name, Kind: chart.Line, Ink: chart.Strong, Points: points},
		{Name: band, Kind: chart.Band, Ink: chart.Doubt, Points: points},
	}
}

// curveChart draws a survival curve as what it is: steps.
func curveChart(c returns.Curve, title string) chart.Chart {
	points := []chart.Point{{Y: 100, Low: 100, High: 100}}
	flat := func(x float64) {
		last := points[len(points)-1]
		last.X = x
		points = append(points, last)
	}
	for _, s := range c.Steps {
		x := float64(s.Days) / daysPerMonth
		flat(x)
		points = append(points, chart.Point{X: x, Y: 100 * s.Survival, Low: 100 * s.Low, High: 100 * s.High})
	}
	flat(float64(c.Last) / daysPerMonth)
	p := chart.Chart{Title: title + ", by months since the sale", Unit: "% not yet, by months since the sale", To: points[len(points)-1].X, Least: 100}
	for m := 0; float64(m) <= p.To; m += 6 {
		t := chart.Tick{X: float64(m)}
		if m%12 == 0 {
			t.Label = fmt.Sprint(m)
		}
		p.Ticks = append(p.Ticks, t)
	}
	p.Series = banded(points, "all sales", "95% band")
	return p
}
