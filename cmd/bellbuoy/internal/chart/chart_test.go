package chart_test

import (
	"encoding/xml"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/cmd/bellbuoy/internal/chart"
)

var update = flag.Bool("update", false, "write the golden files")

// week is a shop's fortnight: bars upon bars, a limit, a week that still runs.
func week() chart.Chart {
	return chart.Chart{
		Width: 480, Height: 240, Unit: "hours", Title: "Hours of two weeks", From: -0.5, To: 1.5,
		Ticks: []chart.Tick{{X: 0, Label: "Oct 5"}, {X: 1, Label: "Oct 12"}},
		Series: []chart.Series{
			{Name: "booked", Kind: chart.Bars, Ink: chart.Strong, Points: []chart.Point{{X: 0, Y: 30}, {X: 1, Y: 10, Open: true}}},
			{Name: "penciled in", Kind: chart.Bars, Ink: chart.Pale, Points: []chart.Point{{X: 0, Y: 20}, {X: 1, Y: 5}}},
			{Name: "available", Kind: chart.Line, Ink: chart.Limit, Points: []chart.Point{{X: -0.5, Y: 40}, {X: 1.5, Y: 40}}},
		},
	}
}

func draw(t testing.TB, c chart.Chart) string {
	t.Helper()
	b, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestGolden(t *testing.T) {
	got := draw(t, week())
	path := filepath.Join("testdata", "week.svg")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || got != string(want) {
		t.Errorf("%v; the drawing is\n%s", err, got)
	}
}

// TestPlaces works the places of the fortnight by hand. 50 h is the highest
// stack, so the axis ends at 50; it stands from 214 (240 less 26 for labels) up
// to 74 (the legend's second line at 34, for the week that is not over, and two
// lines more), 2.8 px an hour: 30 h reach 214-84 = 130.
// One unit of x is (480-52-10)/2 = 209 px, a bar at most 34 px: the first from
// 52+104.5-17 = 139.5.
func TestPlaces(t *testing.T) {
	got := draw(t, week())
	for _, want := range []string{
		`<path class="bar strong" d="M139.5 214V130h34V214z"/>`,
		`<path class="bar pale" d="M139.5 130V74h34V130z"/>`,
		`<path class="bar strong open" d="M348.5 214V186h34V214z"/>`,
		`<path class="line limit" d="M52 102L470 102"/>`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in\n%s", want, got)
		}
	}
}

func TestTextsAreEscaped(t *testing.T) {
	c := week()
	c.Unit, c.Title, c.Series[0].Name, c.Ticks[0].Label = "<b>", `"&<`, "</svg><script>", "a&b"
	got := draw(t, c)
	if strings.Contains(got, "<script") || strings.Contains(got, "<b>") {
		t.Errorf("unescaped:\n%s", got)
	}
	wellFormed(t, got)
}

func wellFormed(t interface{ Fatalf(string, ...any) }, svg string) {
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("%v in\n%s", err, svg)
		}
	}
}

var number = regexp.MustCompile(`(?:^|[ MLVHx])(-?\d+(?:\.\d+)?)`)

// TestAnyFigures draws whatever comes: always well-formed, never a number that
// is none, nothing outside the paper.
func TestAnyFigures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		figure := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 3), rapid.Float64Range(0, 1e7))
		n := rapid.IntRange(0, 60).Draw(t, "n")
		c := chart.Chart{Width: rapid.SampledFrom([]int{320, 720, 960}).Draw(t, "width"), Height: 300, Unit: "hours", From: -0.5, To: float64(n) - 0.5}
		for i, k := range []chart.Kind{chart.Bars, chart.Bars, chart.Band, chart.Line, chart.Dots, chart.Dashes, chart.Ranges} {
			s := chart.Series{Name: "series " + strconv.Itoa(i), Kind: k, Ink: chart.Strong}
			for x := range n {
				lo := figure.Draw(t, "low")
				s.Points = append(s.Points, chart.Point{X: float64(x), Y: figure.Draw(t, "y"), Low: lo, High: lo + figure.Draw(t, "high")})
			}
			c.Series = append(c.Series, s)
		}
		for x := range n {
			c.Ticks = append(c.Ticks, chart.Tick{X: float64(x), Label: "Mon " + strconv.Itoa(x)})
		}
		b, err := c.SVG()
		if err != nil {
			t.Fatal(err)
		}
		svg := string(b)
		wellFormed(t, svg)
		if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Fatalf("not a number:\n%s", svg)
		}
		for _, m := range regexp.MustCompile(` d="([^"]*)"`).FindAllStringSubmatch(svg, -1) {
			for _, num := range number.FindAllStringSubmatch(m[1], -1) {
				v, err := strconv.ParseFloat(num[1], 64)
				if err != nil || v < -0.1 || v > float64(max(c.Width, c.Height)) || math.IsNaN(v) {
					t.Fatalf("%q lies off the paper in %s", num[1], m[0])
				}
			}
		}
	})
}
