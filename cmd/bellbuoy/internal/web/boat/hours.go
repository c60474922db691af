package boat

import (
	"fmt"
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/chart"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// monthsAhead is how far a meter's forecast is shown.
const monthsAhead = 18

// hoursSVG draws one engine's meter: what was read, and the forecast with its
// band.
func (s pages) hoursSVG(r *http.Request) (chart.Chart, error) {
	curves, err := s.meterCurves(r, r.PathValue("id"))
	if err != nil {
		return chart.Chart{}, err
	}
	for i := range curves {
		if curves[i].Component.ID == r.PathValue("component") {
			return hoursChart(&curves[i], s.Today()), nil
		}
	}
	return chart.Chart{}, site.NotFound("This boat has no meter of that name.")
}

func (s pages) meterCurves(r *http.Request, boatID string) ([]schedule.MeterCurve, error) {
	f, err := s.App.Facts(r.Context(), boatID)
	if err != nil {
		return nil, err
	}
	return s.App.Planner.MeterCurves(&f, s.Today(), s.Today().AddMonths(monthsAhead)), nil
}

func hoursChart(m *schedule.MeterCurve, today civil.Day) chart.Chart {
	known, ahead := meterPoints(m.Known), meterPoints(m.Ahead)
	c := chart.Chart{Title: "Meter hours of " + m.Component.Label, Unit: "meter hours", From: float64(today.AddMonths(-12)), To: float64(today.AddMonths(monthsAhead))}
	if len(m.Known) > 0 {
		c.From = min(c.From, float64(m.Known[0].Day))
	}
	c.Ticks = yearTicks(civil.Day(c.From), civil.Day(c.To))
	if len(ahead) > 0 {
		c.Series = append(c.Series,
			chart.Series{Name: "expected, an estimate", Kind: chart.Dashes, Ink: chart.Strong, Points: ahead},
			chart.Series{Name: "half of all cases", Kind: chart.Band, Ink: chart.Doubt, Points: ahead})
	}
	c.Series = append(c.Series, chart.Series{Name: "read", Kind: chart.Dots, Ink: chart.Strong, Points: known})
	if m.Limit > 0 {
		y := m.Limit.Float()
		c.Least = y * 1.05
		c.Series = append(c.Series, chart.Series{Name: "next limit", Kind: chart.Dashes, Ink: chart.Limit, Points: []chart.Point{{X: c.From, Y: y}, {X: c.To, Y: y}}})
	}
	return c
}

func meterPoints(days []schedule.MeterDay) []chart.Point {
	points := make([]chart.Point, len(days))
	for i, d := range days {
		points[i] = chart.Point{X: float64(d.Day), Y: d.Expected.Float(), Low: d.Low.Float(), High: d.High.Float()}
	}
	return points
}

// yearTicks marks each 1 January between two days, and labels as many as fit.
func yearTicks(from, to civil.Day) []chart.Tick {
	var ts []chart.Tick
	for y := from.Year() + 1; y <= to.Year(); y++ {
		ts = append(ts, chart.Tick{X: float64(civil.Of(y, 1, 1)), Label: fmt.Sprint(y)})
	}
	return ts
}
