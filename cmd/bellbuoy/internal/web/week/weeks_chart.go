package week

import (
	"fmt"
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/chart"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
)

// loadSVG draws the coming weeks: booked and pencilled hours as bars, above them
// what is lacking, the hours that are available as a line.
func (s pages) loadSVG(r *http.Request) (chart.Chart, error) {
	loads, err := s.loads(r.Context(), s.Today())
	if err != nil {
		return chart.Chart{}, err
	}
	return loadChart(loads), nil
}

func loadChart(loads []loadLine) chart.Chart {
	var booked, pencilled, short, room []chart.Point
	labels := make([]string, len(loads))
	for i, l := range loads {
		x := float64(i)
		booked = append(booked, chart.Point{X: x, Y: float64(l.Booked) / 60})
		pencilled = append(pencilled, chart.Point{X: x, Y: float64(l.Pencilled) / 60})
		short = append(short, chart.Point{X: x, Y: float64(l.Short) / 60})
		room = append(room, site.Steady(x, l.Available)...)
		if d := l.Week.Monday(); i == 0 || d.Month() != (d-7).Month() {
			labels[i] = monthWord(d)
		}
	}
	c := site.RowChart("Hours by week", "hours", labels)
	c.Series = []chart.Series{
		{Name: "booked", Kind: chart.Bars, Ink: chart.Strong, Points: booked},
		{Name: "penciled in", Kind: chart.Bars, Ink: chart.Pale, Points: pencilled},
		{Name: "short", Kind: chart.Bars, Ink: chart.Limit, Points: short},
		{Name: "available", Kind: chart.Line, Ink: chart.Limit, Points: room},
	}
	return c
}

func monthWord(d civil.Day) string {
	if d.Month() == 1 {
		return fmt.Sprintf("Jan %d", d.Year())
	}
	return d.Month().String()[:3]
}
