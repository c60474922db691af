package web

import (
	"fmt"
	"net/http"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"bellbuoy/schedule/civil"
)

// loadSVG draws the coming weeks: booked and pencilled hours as bars, the hours
// that can be sold as a line.
func (s *Server) loadSVG(r *http.Request) ([]byte, error) {
	loads, err := s.loads(r.Context(), s.today())
	if err != nil {
		return nil, err
	}
	p, err := loadChart(loads)
	if err != nil {
		return nil, err
	}
	return svgPage(p, 960, 300)
}

func loadChart(loads []loadLine) (*plot.Plot, error) {
	booked, pencilled := make(plotter.Values, len(loads)), make(plotter.Values, len(loads))
	room := make(plotter.XYs, 0, 2*len(loads))
	for i, l := range loads {
		booked[i], pencilled[i] = float64(l.Booked)/60, float64(l.Pencilled)/60
		y := float64(l.Capacity) / 60
		room = append(room, plotter.XY{X: float64(i) - 0.5, Y: y}, plotter.XY{X: float64(i) + 0.5, Y: y})
	}
	p := newChart()
	p.Y.Label.Text = "hours"
	p.X.Tick.Marker = monthTicks(loads)
	p.Legend.Top, p.Legend.Left = true, true
	width := vg.Length(16)
	b, err := plotter.NewBarChart(booked, width)
	if err != nil {
		return nil, fmt.Errorf("load picture: %w", err)
	}
	c, err := plotter.NewBarChart(pencilled, width)
	if err != nil {
		return nil, fmt.Errorf("load picture: %w", err)
	}
	b.Color, c.Color = inkLine, inkBand
	b.LineStyle.Width, c.LineStyle.Width = 0, 0
	c.StackOn(b)
	line, err := plotter.NewLine(room)
	if err != nil {
		return nil, fmt.Errorf("load picture: %w", err)
	}
	line.Color, line.Width = inkLimit, 2
	p.Add(b, c, line)
	p.Legend.Add("booked", b)
	p.Legend.Add("pencilled", c)
	p.Legend.Add("can be sold", line)
	p.Y.Min = 0
	p.Y.Max *= 1.25 // room for the legend
	return p, nil
}

// monthTicks marks the first week of each month.
type monthTicks []loadLine

// Ticks implements plot.Ticker.
func (m monthTicks) Ticks(_, _ float64) []plot.Tick {
	var ts []plot.Tick
	for i, l := range m {
		d := l.Week.Monday()
		if i == 0 || d.Month() != (d-7).Month() {
			ts = append(ts, plot.Tick{Value: float64(i), Label: monthWord(d)})
		}
	}
	return ts
}

func monthWord(d civil.Day) string {
	if d.Month() == 1 {
		return fmt.Sprintf("Jan %d", d.Year())
	}
	return d.Month().String()[:3]
}
