package web_test

import (
	"net/http"
	"slices"
	"testing"

	"bellbuoy/schedule"
)

// TestSaleTakesWhatTheBoatIsMadeOf: three engines of a family, gear with dates
// and gear without, each a component with a plan of its own.
func TestSaleTakesWhatTheBoatIsMadeOf(t *testing.T) {
	s := newTestShop(t)
	form := saleForm()
	for _, n := range []string{"2", "3"} {
		for _, k := range []string{"propulsion", "fuel", "stroke", "cooling"} {
			form.Set(k+n, form.Get(k+"1"))
		}
		form.Set("label"+n, "Engine "+n)
	}
	form.Set("family1", "reedpike-four")
	form["aboard"] = []string{"battery", "generator"}
	form.Set("co-alarm", "2029-05-01")
	form.Set("life-jacket", "2030-12-31")
	s.asDesk().post("/sold", form).code(http.StatusSeeOther)
	var kinds []string
	for _, c := range s.facts("NB0001").Components {
		kinds = append(kinds, c.Kind)
		switch c.Kind {
		case "co-alarm":
			if c.Expires.String() != "2029-05-01" {
				t.Errorf("the alarm is good until %s", c.Expires)
			}
		case "life-jacket":
			if c.Attr.Get("jacket") != "inflatable" {
				t.Errorf("the life jackets are %q", c.Attr.Extra)
			}
		case "engine":
			if first := c.Label != "Engine 2" && c.Label != "Engine 3"; (c.Attr.Family == "reedpike-four") != first {
				t.Errorf("engine %q is of family %q", c.Label, c.Attr.Family)
			}
		}
	}
	slices.Sort(kinds)
	want := []string{"battery", "co-alarm", "engine", "engine", "engine", "extinguisher", "generator", "life-jacket", "trailer"}
	if !slices.Equal(kinds, want) {
		t.Errorf("the boat is made of %v, want %v", kinds, want)
	}
	for _, rule := range []string{"co-alarm", "life-jacket-cylinder"} {
		if !slices.ContainsFunc(s.plan("NB0001").Items, func(it schedule.DueItem) bool { return it.Rule == rule }) {
			t.Errorf("%s is not in the plan", rule)
		}
	}
}
