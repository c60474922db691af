package web

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

// svg makes a chart's route handler. Its style stands in the file itself, which
// the pages' own policy would forbid.
func (s *Server) svg(draw func(*http.Request) (chart.Chart, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c, err := draw(r)
		if err != nil {
			s.fail(w, r, err)
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
			s.fail(w, r, err)
			return
		}
		h := w.Header()
		h.Set("Content-Type", "image/svg+xml")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'")
		w.Write(data)
	})
}
