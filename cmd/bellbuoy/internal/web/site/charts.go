package site

import (
	"net/http"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/chart"
)

// The widths of a chart in CSS pixels: for a desk's screen, and what a page may
// ask for with "?w=" so that the letters stay readable on a phone.
const (
	chartWidth     = 960
	chartLeast     = 280
	chartHeight    = 300
	chartNarrowest = 560 // narrower ones are less high
)

// SVG makes a chart's route handler. Its style stands in the file itself, which
// the pages' own policy would forbid.
func (s *Site) SVG(draw func(*http.Request) (chart.Chart, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c, err := draw(r)
		if err != nil {
			s.Fail(w, r, err)
			return
		}
		c.Width, c.Height = chartWidth, chartHeight
		if n, err := strconv.Atoi(r.FormValue("w")); err == nil {
			c.Width = min(max(n, chartLeast), chartWidth)
		}
		if c.Width < chartNarrowest {
			c.Height = chartHeight * 4 / 5
		}
		data, err := c.SVG()
		if err != nil {
			s.Fail(w, r, err)
			return
		}
		h := w.Header()
		h.Set("Content-Type", "image/svg+xml")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'")
		w.Write(data)
	})
}

// rowChart is a chart over a row of n places, each with its label.
func RowChart(title, unit string, labels []string) chart.Chart {
	c := chart.Chart{Title: title, Unit: unit, From: -0.6, To: float64(len(labels)) - 0.4}
	for i, l := range labels {
		c.Ticks = append(c.Ticks, chart.Tick{X: float64(i), Label: l})
	}
	return c
}

// steady is the piece of a line that holds through the week at x: a week's
// available minutes, in hours.
func Steady(x float64, minutes int) []chart.Point {
	y := float64(minutes) / 60
	return []chart.Point{{X: x - 0.5, Y: y}, {X: x + 0.5, Y: y}}
}
