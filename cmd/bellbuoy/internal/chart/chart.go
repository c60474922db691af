// Package chart draws the few pictures that the pages show: bars, lines, bands
// and ranges over one axis, as an SVG file of a few kilobytes. Numbers and names
// go in, bytes come out; it imports nothing of ours. The legend stands above the
// drawing, never on the data. A newcomer may add a [Kind].
package chart

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Kind is how a series is drawn.
type Kind string

// The kinds of series.
const (
	Bars   Kind = "bar"    // from 0 to Y; series of bars stand on those named before them
	Line   Kind = "line"   // through the Ys
	Dashes Kind = "dashes" // a line that is an estimate or a limit
	Dots   Kind = "dots"   // a line with each point marked
	Band   Kind = "band"   // between Low and High, under what is named after it
	Ranges Kind = "range"  // from Low to High, one at each point
)

// Ink is what a series is drawn in. It has a color by day and one by night.
type Ink string

// The inks: the same one for the same thing in every picture.
const (
	Strong Ink = "strong" // what happened, what is fixed
	Pale   Ink = "pale"   // what is only expected, and the rest of a whole
	Limit  Ink = "limit"  // what is not to be passed
	Doubt  Ink = "doubt"  // between what an estimate may lie
)

// Point is one figure of a series.
type Point struct {
	X, Y      float64
	Low, High float64 // of a [Band] or [Ranges]
	Open      bool    // still growing, such as a month that runs: a bar is hatched
}

// Series is one kind of figure along the axis.
type Series struct {
	Name   string // in the legend; "" leaves it out
	Kind   Kind
	Ink    Ink
	Points []Point
}

// Tick marks a place on the x axis; an empty label only marks it.
type Tick struct {
	X     float64
	Label string
}

// Chart is one picture.
type Chart struct {
	Width, Height int    // in CSS pixels; letters have 13 of them at any width
	Unit          string // what the y axis counts: "hours", "thousand $"
	Title         string // what the picture shows, for those who do not see it
	From, To      float64
	Ticks         []Tick
	Least         float64 // how far up the y axis reaches at least
	Series        []Series
}

const (
	left, right, foot = 52, 10, 26 // room for the labels of the axes
	line              = 20         // height of a line of letters
	letter            = 6.9        // width of a letter of 13 px, on average
)

//go:embed chart.svg
var source string

var drawing = template.Must(template.New("chart").Parse(source))

// text is a word at a place.
type text struct {
	X, Y, Anchor string
	Words        string
}

// shape is one mark of a series.
type shape struct {
	Class string
	Path  string
}

// key is an entry of the legend.
type key struct {
	Path, TextX, TextY string
	Class, Name        string
}

type picture struct {
	Chart
	Rules, Shapes []shape
	Labels        []text
	Keys          []key
	UnitY         string
}

// SVG draws the chart.
func (c Chart) SVG() ([]byte, error) {
	p := picture{Chart: c}
	keys, legend := c.keys()
	p.Keys = keys
	p.UnitY = px(legend + 22)
	f := frame{c: &c, top: legend + 2*line, bottom: float64(c.Height - foot)}
	f.step, f.high = steps(max(c.Least, c.highest()))
	f.rules(&p)
	f.marks(&p)
	var b bytes.Buffer
	if err := drawing.Execute(&b, p); err != nil {
		return nil, fmt.Errorf("draw the chart %q: %w", c.Title, err)
	}
	return b.Bytes(), nil
}

// keys sets out the legend from the left, in as many lines as it needs; foot is
// where its last line stands.
func (c *Chart) keys() (ks []key, foot float64) {
	x, y := float64(left), 14.0
	enter := func(kind Kind, class, name string) {
		w := 24 + letter*float64(utf8.RuneCountInString(name)) + 16
		if x > left && x+w > float64(c.Width-right) {
			x, y = left, y+line
		}
		sample := "M" + px(x) + " " + px(y-10) + "v10h14v-10z"
		if kind != Bars && kind != Band {
			sample = "M" + px(x) + " " + px(y-4) + "h14"
		}
		ks = append(ks, key{Path: sample, TextX: px(x + 20), TextY: px(y), Class: class, Name: name})
		x += w
	}
	running := ""
	for _, s := range c.Series {
		class := string(s.Kind) + " " + string(s.Ink)
		if s.Name != "" {
			enter(s.Kind, class, s.Name)
		}
		if running == "" && s.Kind == Bars && slices.ContainsFunc(s.Points, func(p Point) bool { return p.Open }) {
			running = openClass(class, true)
		}
	}
	if running != "" {
		enter(Bars, running, "not over yet")
	}
	return ks, y
}

// highest is the highest figure, bars upon each other.
func (c *Chart) highest() float64 {
	high := 0.0
	stack := map[float64]float64{}
	for _, s := range c.Series {
		for _, p := range s.Points {
			y := max(p.Y, p.High)
			if s.Kind == Bars {
				stack[p.X] += p.Y
				y = stack[p.X]
			}
			high = max(high, y)
		}
	}
	return high
}

// steps are the distance of the y axis's marks, 1, 2 or 5 of some power of ten,
// and the mark at or above high: at most six of them.
func steps(high float64) (step, top float64) {
	if high <= 0 {
		return 1, 1
	}
	step = math.Pow(10, math.Floor(math.Log10(high/5)))
	for _, m := range []float64{1, 2, 5, 10} {
		if high/(step*m) <= 5 {
			step *= m
			break
		}
	}
	return step, step * math.Ceil(high/step-1e-9)
}

// frame turns figures into places.
type frame struct {
	c           *Chart
	top, bottom float64
	step, high  float64
}

func (f *frame) x(v float64) float64 {
	w := float64(f.c.Width - left - right)
	if f.c.To == f.c.From {
		return left + w/2
	}
	return left + w*(v-f.c.From)/(f.c.To-f.c.From)
}

func (f *frame) y(v float64) float64 {
	return f.bottom - (f.bottom-f.top)*min(max(v, 0), f.high)/f.high
}

// rules draws the axes, their marks and as many labels as do not touch.
func (f *frame) rules(p *picture) {
	for v := 0.0; v <= f.high+f.step/2; v += f.step {
		y := f.y(v)
		p.Rules = append(p.Rules, shape{"rule", "M" + px(left) + " " + px(y) + "H" + px(float64(f.c.Width-right))})
		p.Labels = append(p.Labels, text{px(left - 8), px(y + 4), "end", strconv.FormatFloat(math.Round(v/f.step)*f.step, 'f', decimals(f.step), 64)})
	}
	free := math.Inf(-1)
	for _, t := range f.c.Ticks {
		x := f.x(t.X)
		if x < left-0.5 || x > float64(f.c.Width-right)+0.5 {
			continue
		}
		p.Rules = append(p.Rules, shape{"tick", "M" + px(x) + " " + px(f.bottom) + "v5"})
		half := letter * float64(utf8.RuneCountInString(t.Label)) / 2
		mid := min(max(x, half), float64(f.c.Width)-half)
		if t.Label == "" || mid-half < free {
			continue
		}
		p.Labels = append(p.Labels, text{px(mid), px(f.bottom + 19), "middle", t.Label})
		free = mid + half + 8
	}
}

func decimals(step float64) int {
	if step >= 1 {
		return 0
	}
	return int(math.Ceil(-math.Log10(step) - 1e-9))
}

// marks draws the series: bands first, then in their order.
func (f *frame) marks(p *picture) {
	stack := map[float64]float64{}
	series := slices.Clone(f.c.Series)
	slices.SortStableFunc(series, func(a, b Series) int { return under(a.Kind) - under(b.Kind) })
	for _, s := range series {
		class := string(s.Kind) + " " + string(s.Ink)
		switch s.Kind {
		case Bars:
			for _, pt := range s.Points {
				if pt.Y <= 0 {
					continue
				}
				p.Shapes = append(p.Shapes, shape{openClass(class, pt.Open), f.bar(pt, stack[pt.X])})
				stack[pt.X] += pt.Y
			}
		case Band:
			if len(s.Points) > 1 {
				p.Shapes = append(p.Shapes, shape{class, f.band(s.Points)})
			}
		case Ranges:
			for _, pt := range s.Points {
				x := f.x(pt.X)
				p.Shapes = append(p.Shapes, shape{class, fmt.Sprintf("M%s %sV%sM%s %sh8M%s %sh8", px(x), px(f.y(pt.Low)), px(f.y(pt.High)),
					px(x-4), px(f.y(pt.Low)), px(x-4), px(f.y(pt.High)))})
			}
		default:
			if len(s.Points) > 1 {
				p.Shapes = append(p.Shapes, shape{class, f.through(s.Points, func(pt Point) float64 { return pt.Y })})
			}
			if s.Kind == Dots {
				for _, pt := range s.Points {
					p.Shapes = append(p.Shapes, shape{"dot " + string(s.Ink), fmt.Sprintf("M%s %sh0", px(f.x(pt.X)), px(f.y(pt.Y)))})
				}
			}
		}
	}
}

func under(k Kind) int {
	if k == Band {
		return 0
	}
	return 1
}

func openClass(class string, open bool) string {
	if open {
		return class + " open"
	}
	return class
}

// bar is a bar that stands on others up to base. It has seven tenths of the
// room of one unit of the x axis.
func (f *frame) bar(pt Point, base float64) string {
	w := min(34, 0.7*(f.x(pt.X+1)-f.x(pt.X)))
	x, y := f.x(pt.X)-w/2, f.y(base+pt.Y)
	return fmt.Sprintf("M%s %sV%sh%sV%sz", px(x), px(f.y(base)), px(y), px(w), px(f.y(base)))
}

func (f *frame) band(points []Point) string {
	back := slices.Clone(points)
	slices.Reverse(back)
	low := f.through(back, func(pt Point) float64 { return pt.Low })
	return f.through(points, func(pt Point) float64 { return pt.High }) + "L" + strings.TrimPrefix(low, "M") + "z"
}

func (f *frame) through(points []Point, of func(Point) float64) string {
	var b strings.Builder
	for i, pt := range points {
		b.WriteByte("ML"[min(i, 1)])
		b.WriteString(px(f.x(pt.X)) + " " + px(f.y(of(pt))))
	}
	return b.String()
}

// px writes a place to a tenth of a pixel.
func px(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }
