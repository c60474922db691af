package boat

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// retiredOn reads since when a component is no longer aboard.
func (s pages) retiredOn(r *http.Request) (civil.Day, error) {
	d, err := site.FormDay(r, "day", "Day", s.Today())
	if err == nil && d > s.Today() {
		err = site.At("day", "The day is still to come.")
	}
	return d, err
}

// readPart reads a component from the form, over what is on file of it.
func (s pages) readPart(r *http.Request, p *partPage) (schedule.Component, error) {
	c := p.Part
	c.BoatID = p.Boat.ID
	var wrong site.Refusals
	c.Label = site.Typed(r, "label")
	var err error
	if c.InService, err = optionalDay(r, "in_service"); err != nil {
		wrong.Add(err)
	}
	if p.Dated() {
		if c.Expires, err = optionalDay(r, "expires"); err != nil {
			wrong.Add(err)
		} else if c.Expires == 0 {
			wrong.Add(site.At("expires", "Give the day that is printed on it: nothing else says when it is due."))
		}
	}
	if c.Kind == "extinguisher" {
		year, err := number(site.Typed(r, "made"), 1960, s.Today().Year())
		if err != nil {
			wrong.Add(site.At("made", "The year of manufacture could not be read."))
		} else if c.Made = 0; year != 0 {
			c.Made = civil.Of(year, 1, 1)
		}
	}
	if c.Kind == "trailer" {
		c.Attr.Extra = withExtra(c.Attr.Extra, "brakes", site.Typed(r, "brakes"))
	}
	if p.Runs() {
		readEngine(r, &c, &wrong)
	}
	if wrong != nil {
		return c, wrong
	}
	return c, nil
}

// readEngine reads what rules ask of an engine, a drive or a generator.
func readEngine(r *http.Request, c *schedule.Component, wrong *site.Refusals) {
	for _, f := range []struct {
		field string
		to    *string
		all   []string
		must  bool
	}{
		{"propulsion", &c.Attr.Propulsion, schedule.Propulsions, c.Kind == "engine"}, {"fuel", &c.Attr.Fuel, schedule.Fuels, c.Kind == "engine"},
		{"stroke", &c.Attr.Stroke, schedule.Strokes, false}, {"cooling", &c.Attr.Cooling, schedule.Coolings, false},
	} {
		*f.to = site.Typed(r, f.field)
		if !slices.Contains(f.all, *f.to) && (f.must || *f.to != "") {
			wrong.Add(site.At(f.field, "Choose one: the plan depends on it."))
		}
	}
	c.Attr.Family = site.Typed(r, "family")
	duty, err := strconv.Atoi(site.Typed(r, "duty"))
	if err != nil || duty < 1 || duty > 1000 {
		wrong.Add(site.At("duty", "Write it in percent: 100 is normal, 50 is severe duty (twice as often)."))
		return
	}
	c.Duty = duty
}

// withExtra sets one of a component's further attributes, "" to remove it.
func withExtra(extra, key, value string) string {
	var all []string
	for _, kv := range strings.Split(extra, ";") {
		if kv != "" && !strings.HasPrefix(kv, key+"=") {
			all = append(all, kv)
		}
	}
	if value != "" {
		all = append(all, key+"="+value)
	}
	slices.Sort(all)
	return strings.Join(all, ";")
}
