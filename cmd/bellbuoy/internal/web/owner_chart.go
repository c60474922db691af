package web

import (
	"context"
	"fmt"
	"net/http"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"bellbuoy/cmd/bellbuoy/internal/round"
	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
)

// ownerSVG draws one of the owner's pictures. Each has its figures as a table
// on the same page.
func (s *Server) ownerSVG(r *http.Request) ([]byte, error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return nil, err
	}
	p, err := ownerChart(r.Context(), l, r.PathValue("name"), s.House.Config.Shop.Currency)
	if err != nil {
		return nil, err
	}
	return svgPage(p, 960, 300)
}

func ownerChart(ctx context.Context, l *round.Ledger, name, currency string) (*plot.Plot, error) {
	switch name {
	case "money":
		rev, err := l.Revenue(ctx)
		if err != nil {
			return nil, err
		}
		return moneyChart(rev, currency)
	case "rates":
		return ratesChart(l.Rates())
	case "first", "lapse":
		return curveChart(l.Times(name).All.Curve)
	case "ahead":
		e, err := l.Expectation(ctx)
		if err != nil {
			return nil, err
		}
		return aheadChart(e, currency)
	case "work":
		w, err := l.Workload(ctx)
		if err != nil {
			return nil, err
		}
		return workChart(w)
	}
	return nil, notFound("There is no such picture.")
}

// thousands is an amount in thousands, as charts show it.
func thousands(c schedule.Cents) float64 { return float64(c) / 100_000 }

// bars adds bars in one ink, upon others if there are some.
func bars(p *plot.Plot, v plotter.Values, ink int, name string, upon *plotter.BarChart) (*plotter.BarChart, error) {
	b, err := plotter.NewBarChart(v, vg.Length(max(6, min(24, 700/max(1, len(v))))))
	if err != nil {
		return nil, fmt.Errorf("bars of %s: %w", name, err)
	}
	b.LineStyle.Width = 0
	if b.Color = inkLine; ink > 0 {
		b.Color = inkBand
	}
	if upon != nil {
		b.StackOn(upon)
	}
	p.Add(b)
	p.Legend.Add(name, b)
	return b, nil
}

func moneyChart(r *round.Revenue, currency string) (*plot.Plot, error) {
	var repeat, other plotter.Values
	var labels []string
	for _, s := range r.Seasons {
		for _, m := range s.Months {
			repeat, other = append(repeat, thousands(m.Repeat.Cents)), append(other, thousands(m.Other.Cents))
			labels = append(labels, m.Month.Short())
		}
	}
	p := newChart()
	p.Y.Label.Text = "thousand " + currency
	p.X.Tick.Marker = someLabels(labels)
	p.Legend.Top, p.Legend.Left = true, true
	if len(repeat) == 0 {
		return p, nil
	}
	b, err := bars(p, repeat, 0, "repeat service", nil)
	if err != nil {
		return nil, err
	}
	_, err = bars(p, other, 1, "other work", b)
	roomForLegend(p, len(repeat))
	return p, err
}

// roomForLegend leaves room above the bars for the legend, and beside them for
// the last label.
func roomForLegend(p *plot.Plot, bars int) {
	p.Y.Min = 0
	p.Y.Max *= 1.3
	p.X.Min, p.X.Max = -0.7, float64(bars)-0.2
}

func aheadChart(e *round.Expectation, currency string) (*plot.Plot, error) {
	var values plotter.Values
	var labels []string
	ranges := make(errorBars, 0, len(e.Months))
	for i, m := range e.Months {
		values = append(values, thousands(m.Expected))
		labels = append(labels, m.Month.Short())
		ranges = append(ranges, [4]float64{float64(i), thousands(m.Expected), thousands(m.Expected - m.Low), thousands(m.High - m.Expected)})
	}
	p := newChart()
	p.Y.Label.Text = "thousand " + currency
	p.X.Tick.Marker = someLabels(labels)
	p.Legend.Top, p.Legend.Left = true, true
	if _, err := bars(p, values, 1, "expected, an estimate", nil); err != nil {
		return nil, err
	}
	whiskers, err := plotter.NewYErrorBars(ranges)
	if err != nil {
		return nil, fmt.Errorf("ranges ahead: %w", err)
	}
	whiskers.Color, whiskers.Width = inkLimit, 1.5
	p.Add(whiskers)
	roomForLegend(p, len(values))
	return p, nil
}

// errorBars are points with what lies below and above them.
type errorBars [][4]float64

// Len implements plotter.XYer.
func (e errorBars) Len() int { return len(e) }

// XY implements plotter.XYer.
func (e errorBars) XY(i int) (x, y float64) { return e[i][0], e[i][1] }

// YError implements plotter.YErrorer.
func (e errorBars) YError(i int) (low, high float64) { return e[i][2], e[i][3] }

func workChart(w *round.Workload) (*plot.Plot, error) {
	var sold, ahead plotter.Values
	var labels []string
	var room plotter.XYs
	for i, x := range w.Weeks {
		sold, ahead = append(sold, float64(x.Sold.Minutes)/60), append(ahead, float64(x.Ahead.Minutes)/60)
		labels = append(labels, shortDay(x.Week.Monday())[:6])
		y := float64(x.Capacity) / 60
		room = append(room, plotter.XY{X: float64(i) - 0.5, Y: y}, plotter.XY{X: float64(i) + 0.5, Y: y})
	}
	p := newChart()
	p.Y.Label.Text = "hours"
	p.X.Tick.Marker = someLabels(labels)
	p.Legend.Top, p.Legend.Left = true, true
	b, err := bars(p, sold, 1, "sold, an estimate", nil)
	if err != nil {
		return nil, err
	}
	if _, err := bars(p, ahead, 0, "booked or pencilled", b); err != nil {
		return nil, err
	}
	line, err := plotter.NewLine(room)
	if err != nil {
		return nil, fmt.Errorf("capacity: %w", err)
	}
	line.Color, line.Width = inkLimit, 2
	p.Add(line)
	p.Legend.Add("can be sold", line)
	roomForLegend(p, len(sold))
	return p, nil
}

// ratesChart draws the return rate of all years of sale by season, with its
// interval.
func ratesChart(r round.Rates) (*plot.Plot, error) {
	p := newChart()
	p.Y.Label.Text = "% of boats that came"
	p.Legend.Top, p.Legend.Left = true, true
	var labels []string
	var rate, low, high plotter.XYs
	if len(r.Rows) > 0 {
		for i, c := range r.Rows[len(r.Rows)-1].Cells {
			x := float64(i)
			rate, low, high = append(rate, plotter.XY{X: x, Y: 100 * c.Rate}), append(low, plotter.XY{X: x, Y: 100 * c.Low}), append(high, plotter.XY{X: x, Y: 100 * c.High})
			labels = append(labels, r.Seasons[i].Title())
		}
	}
	p.X.Tick.Marker = someLabels(labels)
	p.X.Min, p.X.Max = -0.2, float64(len(labels))-0.4
	p.Y.Min, p.Y.Max = 0, 100
	return p, addBanded(p, rate, low, high, "all years of sale", "95 % interval")
}

// addBanded draws a line with the band between two others.
func addBanded(p *plot.Plot, mid, low, high plotter.XYs, name, bandName string) error {
	if len(mid) < 2 {
		return nil
	}
	ring := append(plotter.XYs{}, high...)
	for i := len(low) - 1; i >= 0; i-- {
		ring = append(ring, low[i])
	}
	band, err := plotter.NewPolygon(ring)
	if err != nil {
		return fmt.Errorf("%s: %w", bandName, err)
	}
	band.Color, band.LineStyle.Width = inkBand, 0
	line, err := plotter.NewLine(mid)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	line.Color, line.Width = inkLine, 2
	p.Add(band, line)
	p.Legend.Add(name, line)
	p.Legend.Add(bandName, band)
	return nil
}

// curveChart draws a survival curve as what it is: steps.
func curveChart(c returns.Curve) (*plot.Plot, error) {
	p := newChart()
	p.X.Label.Text, p.Y.Label.Text = "months since the sale", "% not yet"
	p.X.Tick.Marker = twelves{}
	p.Legend.Top, p.Legend.Left, p.Legend.XOffs = true, true, 560 // right of where the curve falls
	mid, low, high := plotter.XYs{{X: 0, Y: 100}}, plotter.XYs{{X: 0, Y: 100}}, plotter.XYs{{X: 0, Y: 100}}
	step := func(xys plotter.XYs, x, y float64) plotter.XYs {
		return append(xys, plotter.XY{X: x, Y: xys[len(xys)-1].Y}, plotter.XY{X: x, Y: y})
	}
	for _, s := range c.Steps {
		x := float64(s.Days) / daysPerMonth
		mid, low, high = step(mid, x, 100*s.Survival), step(low, x, 100*s.Low), step(high, x, 100*s.High)
	}
	end := float64(c.Last) / daysPerMonth
	for _, xys := range []*plotter.XYs{&mid, &low, &high} {
		*xys = append(*xys, plotter.XY{X: end, Y: (*xys)[len(*xys)-1].Y})
	}
	p.Y.Min, p.Y.Max, p.X.Min = 0, 100, 0
	return p, addBanded(p, mid, low, high, "all sales", "95 % band")
}

// twelves marks whole years on an axis of months.
type twelves struct{}

// Ticks implements plot.Ticker.
func (twelves) Ticks(lo, hi float64) []plot.Tick {
	var ts []plot.Tick
	for m := 0; float64(m) <= hi; m += 6 {
		if float64(m) < lo {
			continue
		}
		label := ""
		if m%12 == 0 {
			label = fmt.Sprint(m)
		}
		ts = append(ts, plot.Tick{Value: float64(m), Label: label})
	}
	return ts
}

// mostLabels is how many labels stand side by side without touching.
const mostLabels = 11

// someLabels marks every place of a row of bars, and labels as many as fit.
type someLabels []string

// Ticks implements plot.Ticker.
func (l someLabels) Ticks(_, _ float64) []plot.Tick {
	every := (len(l) + mostLabels - 1) / mostLabels
	ts := make([]plot.Tick, len(l))
	for i, name := range l {
		ts[i].Value = float64(i)
		if i%every == 0 {
			ts[i].Label = name
		}
	}
	return ts
}
