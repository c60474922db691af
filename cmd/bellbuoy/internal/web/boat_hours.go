package web

import (
	"fmt"
	"net/http"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// monthsAhead is how far a meter's forecast is shown.
const monthsAhead = 18

// hoursSVG draws one engine's meter: what was read, and the forecast with its
// band.
func (s *Server) hoursSVG(r *http.Request) ([]byte, error) {
	curves, err := s.meterCurves(r, r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	for i := range curves {
		if curves[i].Component.ID == r.PathValue("component") {
			p, err := hoursChart(&curves[i], s.today())
			if err != nil {
				return nil, err
			}
			return svgPage(p, 720, 300)
		}
	}
	return nil, notFound("This boat has no meter of that name.")
}

func (s *Server) meterCurves(r *http.Request, boatID string) ([]schedule.MeterCurve, error) {
	f, err := s.House.Facts(r.Context(), boatID)
	if err != nil {
		return nil, err
	}
	return s.House.Planner.MeterCurves(&f, s.today(), s.today().AddMonths(monthsAhead)), nil
}

func hoursChart(c *schedule.MeterCurve, today civil.Day) (*plot.Plot, error) {
	p := newChart()
	p.X.Tick.Marker = yearTicks{}
	p.Y.Label.Text = "meter hours"
	p.Legend.Top, p.Legend.Left = true, true
	if err := addBand(p, c.Ahead); err != nil {
		return nil, err
	}
	known, err := plotter.NewLine(points(c.Known, func(d schedule.MeterDay) schedule.Hours { return d.Expected }))
	if err != nil {
		return nil, fmt.Errorf("chart of %q: %w", c.Component.ID, err)
	}
	known.Color, known.Width = inkLine, 1.5
	dots := &plotter.Scatter{XYs: known.XYs, GlyphStyle: draw.GlyphStyle{Color: inkLine, Radius: 2.5, Shape: draw.CircleGlyph{}}}
	p.Add(known, dots)
	p.Legend.Add("read", dots)
	if c.Limit > 0 {
		limit := plotter.NewFunction(func(float64) float64 { return c.Limit.Float() })
		limit.Color, limit.Width, limit.Dashes = inkLimit, 1.5, []vg.Length{6, 3}
		limit.Samples = 2
		p.Add(limit)
		p.Legend.Add("next limit", limit)
		p.Y.Max = max(p.Y.Max, c.Limit.Float()*1.05)
	}
	p.Y.Min = 0
	if len(c.Known) > 0 {
		p.X.Min = float64(min(c.Known[0].Day, today.AddMonths(-12)))
	}
	return p, nil
}

// addBand draws the forecast: half of all cases, and the expected meter.
func addBand(p *plot.Plot, ahead []schedule.MeterDay) error {
	if len(ahead) < 2 {
		return nil
	}
	ring := points(ahead, func(d schedule.MeterDay) schedule.Hours { return d.High })
	low := points(ahead, func(d schedule.MeterDay) schedule.Hours { return d.Low })
	for i := len(low) - 1; i >= 0; i-- {
		ring = append(ring, low[i])
	}
	band, err := plotter.NewPolygon(ring)
	if err != nil {
		return fmt.Errorf("forecast band: %w", err)
	}
	band.Color, band.LineStyle.Width = inkBand, 0
	mid, err := plotter.NewLine(points(ahead, func(d schedule.MeterDay) schedule.Hours { return d.Expected }))
	if err != nil {
		return fmt.Errorf("forecast: %w", err)
	}
	mid.Color, mid.Width, mid.Dashes = inkLine, 1.5, []vg.Length{2, 3}
	p.Add(band, mid)
	p.Legend.Add("half of all cases", band)
	p.Legend.Add("expected, an estimate", mid)
	return nil
}

func points(days []schedule.MeterDay, of func(schedule.MeterDay) schedule.Hours) plotter.XYs {
	xys := make(plotter.XYs, len(days))
	for i, d := range days {
		xys[i].X, xys[i].Y = float64(d.Day), of(d).Float()
	}
	return xys
}
