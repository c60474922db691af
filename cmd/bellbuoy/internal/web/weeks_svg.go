package web

import (
	"bytes"
	"fmt"
	"image/color"
	"net/http"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"bellbuoy/schedule/civil"
)

// The inks of a chart. They stand for the style sheet's colours, which a chart
// library does not know; see [svgPage].
var (
	inkText  = color.RGBA{0x10, 0x10, 0x10, 0xff}
	inkRule  = color.RGBA{0x20, 0x20, 0x20, 0xff}
	inkBand  = color.RGBA{0x30, 0x30, 0x30, 0xff}
	inkLine  = color.RGBA{0x40, 0x40, 0x40, 0xff}
	inkLimit = color.RGBA{0x50, 0x50, 0x50, 0xff}
)

// svgStyle gives the inks their colours, by day and by night; they are those of
// the style sheet.
const svgStyle = `<style>:root{--t:#16242f;--r:#c5d0d6;--b:#b9cfdc;--l:#0f4c75;--m:#a8483b}` +
	`@media(prefers-color-scheme:dark){:root{--t:#e4eaee;--r:#33434e;--b:#274658;--l:#8cc4ea;--m:#d98b7c}}</style>`

// newChart is a chart in our look: no frame, thin axes.
func newChart() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Tick.Color = inkRule, inkRule
		a.Tick.Label.Color, a.Label.TextStyle.Color = inkText, inkText
		a.Tick.Label.Font.Size, a.Label.TextStyle.Font.Size = 13, 13
		a.LineStyle.Width = 1
	}
	p.Y.Tick.Marker = plainTicks{}
	p.Legend.TextStyle.Color = inkText
	p.Legend.TextStyle.Font.Size = 13
	p.Legend.Padding = 3
	return p
}

// svgPage draws a chart as an SVG file with the inks in their colours. It is
// drawn without a background, for paper and for a dark screen.
func svgPage(p *plot.Plot, width, height vg.Length) ([]byte, error) {
	c := vgsvg.New(width, height)
	p.Draw(draw.New(c))
	var buf bytes.Buffer
	if _, err := c.WriteTo(&buf); err != nil {
		return nil, fmt.Errorf("draw a chart: %w", err)
	}
	s := buf.String()
	for _, ink := range []struct {
		c    color.RGBA
		name string
	}{{inkText, "--t"}, {inkRule, "--r"}, {inkBand, "--b"}, {inkLine, "--l"}, {inkLimit, "--m"}} {
		s = strings.ReplaceAll(s, fmt.Sprintf("#%02X%02X%02X", ink.c.R, ink.c.G, ink.c.B), "var("+ink.name+")")
	}
	// The library names fonts that few machines have, and leaves black out.
	s = strings.ReplaceAll(s, "font-family:Liberation Serif", "font-family:system-ui,sans-serif")
	if i := strings.Index(s, "<g "); i >= 0 {
		s = s[:i] + svgStyle + s[i:]
	}
	return []byte(s), nil
}

// serveSVG answers with a chart. Its style stands in the file itself, which the
// pages' own policy would forbid.
func (s *Server) serveSVG(w http.ResponseWriter, r *http.Request, draw func(*http.Request) ([]byte, error)) {
	data, err := draw(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "image/svg+xml")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'")
	w.Write(data)
}

// svg makes a chart's route handler.
func (s *Server) svg(draw func(*http.Request) ([]byte, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { s.serveSVG(w, r, draw) })
}

// yearTicks marks each 1 January between two days, or each quarter if there are
// few.
type yearTicks struct{}

// Ticks implements plot.Ticker on days as numbers.
func (yearTicks) Ticks(lo, hi float64) []plot.Tick {
	from, to := civil.Day(lo), civil.Day(hi)
	var ts []plot.Tick
	step := max(1, (to.Year()-from.Year())/8)
	for y := from.Year(); y <= to.Year()+1; y++ {
		if d := civil.Of(y, 1, 1); d >= from && d <= to {
			label := ""
			if y%step == 0 {
				label = fmt.Sprint(y)
			}
			ts = append(ts, plot.Tick{Value: float64(d), Label: label})
		}
	}
	return ts
}

// plainTicks are the library's ticks with plain numbers.
type plainTicks struct{}

// Ticks implements plot.Ticker.
func (plainTicks) Ticks(lo, hi float64) []plot.Tick {
	ts := plot.DefaultTicks{}.Ticks(lo, hi)
	for i := range ts {
		if ts[i].Label != "" {
			ts[i].Label = strconv.FormatFloat(ts[i].Value, 'f', -1, 64)
		}
	}
	return ts
}
