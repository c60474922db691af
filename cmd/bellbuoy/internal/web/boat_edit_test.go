package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
)

// boatForm is a boat's edit form as its page shows it.
func (s *testShop) boatForm(cookie, boat string) url.Values {
	s.t.Helper()
	b := s.facts(boat).Boat
	page := s.as(cookie, "GET", "/boats/"+boat+"/edit", nil).code(http.StatusOK)
	return url.Values{"form": {formOf(page)}, "seen": {site.Seen(b)}, "boat_name": {b.Name}, "hin": {b.HIN}, "make": {b.Make}, "model": {b.Model}, "year": {"2018"},
		"length_ft": {"26"}, "boat_kind": {b.Kind}, "water": {b.Water}, "place": {b.Place}, "berth": {b.Berth}}
}

func TestBoatIsChanged(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	form := s.boatForm(desk, "HERON")
	form.Set("berth", "shop-heated")
	form.Set("boat_name", "Night Heron")
	if to := s.as(desk, "POST", "/boats/HERON/edit", form).code(http.StatusSeeOther).to(); to != "/boats/HERON" {
		t.Errorf("led to %q", to)
	}
	if b := s.facts("HERON").Boat; b.Berth != "shop-heated" || b.Name != "Night Heron" || b.Make != "Tarnholm" {
		t.Errorf("on file %+v", b)
	}
	s.as(desk, "POST", "/boats/HERON/edit", form).code(http.StatusUnprocessableEntity)
	s.as(desk, "GET", "/boats/HERON", nil).says("Night Heron", "in our heated storage", "kept: in our heated storage, before: in our storage, outside")

	stale := s.boatForm(desk, "HERON")
	other := s.boatForm(desk, "HERON")
	other.Set("water", "salt")
	s.as(desk, "POST", "/boats/HERON/edit", other).code(http.StatusSeeOther)
	stale.Set("boat_name", "Blue Heron")
	s.as(desk, "POST", "/boats/HERON/edit", stale).code(http.StatusUnprocessableEntity).says("Meanwhile").holds("Blue Heron")
	if b := s.facts("HERON").Boat; b.Water != "salt" || b.Name != "Night Heron" {
		t.Errorf("on file %+v", b)
	}
	again := s.boatForm(desk, "HERON")
	again.Set("hin", "QXB 3K7T2 E616")
	s.as(desk, "POST", "/boats/HERON/edit", again).code(http.StatusUnprocessableEntity).says("has that HIN on file")
}

func TestEngineIsAddedReplacedAndRetired(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	s.as(desk, "GET", "/boats/PUFFIN/part", nil).code(http.StatusOK).says("engine", "extinguisher", "CO alarm")
	form := url.Values{"form": {formOf(s.as(desk, "GET", "/boats/PUFFIN/part?part_kind=engine", nil).code(http.StatusOK))}, "kind": {"save"}, "seen": {""}, "part_kind": {"engine"}, "do": {"save"},
		"label": {"Kicker"}, "propulsion": {""}, "fuel": {"gasoline"}, "stroke": {"four"}, "cooling": {"raw-water"}, "duty": {"100"}, "in_service": {"2026-06-01"}}
	s.as(desk, "POST", "/boats/PUFFIN/part", form).code(http.StatusUnprocessableEntity).says("the plan depends on it")
	form.Set("propulsion", "outboard")
	s.as(desk, "POST", "/boats/PUFFIN/part", form).code(http.StatusSeeOther)
	s.as(desk, "POST", "/boats/PUFFIN/part", form).code(http.StatusUnprocessableEntity)
	part := func() schedule.Component {
		for _, c := range s.facts("PUFFIN").Components {
			if c.Label == "Kicker" {
				return c
			}
		}
		t.Fatal("no such engine")
		return schedule.Component{}
	}
	due := func(id string) bool {
		p := s.plan("PUFFIN")
		return slices.ContainsFunc(p.Items, func(it schedule.DueItem) bool { return it.ComponentID == id })
	}
	old := part()
	if !due(old.ID) {
		t.Error("nothing is due on the new engine")
	}
	replaces := url.Values{"form": {formOf(s.as(desk, "GET", "/boats/PUFFIN/part?replaces=1&part="+old.ID, nil).code(http.StatusOK).says("replace kicker"))}, "kind": {"save"},
		"seen": {site.Seen(old)}, "part": {old.ID}, "replaces": {"1"}, "do": {"save"}, "day": {"2026-11-20"}, "label": {"Kicker"}, "propulsion": {"outboard"}, "fuel": {"gasoline"},
		"stroke": {"four"}, "cooling": {"raw-water"}, "duty": {"100"}, "in_service": {"2026-11-20"}}
	s.as(desk, "POST", "/boats/PUFFIN/part", replaces).code(http.StatusSeeOther)
	fresh := part()
	if fresh.ID == old.ID || due(old.ID) || !due(fresh.ID) {
		t.Errorf("old %s due %v, new %s due %v", old.ID, due(old.ID), fresh.ID, due(fresh.ID))
	}
	s.as(desk, "GET", "/boats/PUFFIN", nil).says("1 component no longer aboard")
	retire := url.Values{"form": {formOf(s.as(desk, "GET", "/boats/PUFFIN/part?part="+fresh.ID, nil).code(http.StatusOK))}, "kind": {"retire"}, "seen": {site.Seen(fresh)},
		"part": {fresh.ID}, "do": {"retire"}, "day": {"2026-11-25"}}
	s.as(desk, "POST", "/boats/PUFFIN/part", retire).code(http.StatusSeeOther)
	if due(fresh.ID) {
		t.Error("something is due on a retired engine")
	}
	s.as(desk, "POST", "/boats/PUFFIN/part", retire).code(http.StatusNotFound)
	for range 2 {
		s.as(desk, "POST", "/boats/PUFFIN/part/back", url.Values{"part": {fresh.ID}}).code(http.StatusSeeOther)
	}
	if !due(fresh.ID) {
		t.Error("nothing is due on an engine that was taken back")
	}
}

func TestRuleOfABoatAsksTwiceForSafety(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	s.as(desk, "GET", "/boats/PERCH/rules", nil).code(http.StatusOK).says("Water pump impeller", "every 36 months")
	form := url.Values{"rule": {"impeller"}, "component": {"PERCH-E1"}, "how": {"manual"}, "months": {"24"}, "hours": {"200"}}
	s.as(desk, "POST", "/boats/PERCH/rules", form).code(http.StatusUnprocessableEntity).says("where the figure comes from")
	form.Set("source", "this engine's manual, p. 60")
	for range 2 {
		s.as(desk, "POST", "/boats/PERCH/rules", form).code(http.StatusSeeOther)
	}
	s.as(desk, "GET", "/boats/PERCH/rules", nil).says("every 24 months or 200 h (this engine's manual, p. 60)")
	if o := s.facts("PERCH").Overrides; len(o) != 1 || o[0].Months != 24 {
		t.Errorf("overrides %+v", o)
	}
	form.Set("how", "catalog")
	s.as(desk, "POST", "/boats/PERCH/rules", form).code(http.StatusSeeOther)
	if o := s.facts("PERCH").Overrides; len(o) != 0 {
		t.Errorf("overrides %+v", o)
	}
	var safety, part string
	for i, rule := range s.app.Planner.Catalogue().Rules {
		for _, c := range s.facts("PERCH").Components {
			if rule.Safety && rule.Matches(c.Kind, c.Attr.Get) {
				safety, part = s.app.Planner.Catalogue().Rules[i].Code, c.ID
			}
		}
	}
	if safety == "" {
		t.Fatal("no rule of safety applies to the boat")
	}
	r, _ := s.app.Planner.Catalogue().Rule(safety)
	harm := r.OwnerConsequence
	if harm == "" {
		harm = r.Consequence
	}
	form = url.Values{"rule": {safety}, "component": {part}, "how": {"owner"}, "source": {"He is a mechanic"}}
	s.as(desk, "POST", "/boats/PERCH/rules", form).code(http.StatusUnprocessableEntity).says("What can happen", harm)
	if o := s.facts("PERCH").Overrides; len(o) != 0 {
		t.Errorf("overrides %+v", o)
	}
	form.Set("sure", "1")
	s.as(desk, "POST", "/boats/PERCH/rules", form).code(http.StatusSeeOther)
	if o := s.facts("PERCH").Overrides; len(o) != 1 || !o[0].ByCustomer {
		t.Errorf("overrides %+v", o)
	}
}

func TestNoteStays(t *testing.T) {
	s := newTestShop(t)
	tech := s.hire("Ruth", "technician")
	s.as(tech, "POST", "/boats/HERON/note", url.Values{"was": {""}, "note": {"Key with the harbor master"}}).code(http.StatusSeeOther)
	s.as(tech, "GET", "/boats/HERON", nil).says("Key with the harbor master", "Ruth")
	s.as(tech, "GET", "/boats/HERON/sheet?visit="+s.nextVisit("HERON").ID, nil).code(http.StatusOK).says("Key with the harbor master")
	s.as(tech, "POST", "/boats/HERON/note", url.Values{"was": {""}, "note": {"Ask first"}}).code(http.StatusUnprocessableEntity).says("Meanwhile somebody else wrote a note").holds("Ask first")
}

func TestHistoryStandsByVisit(t *testing.T) {
	s := newTestShop(t)
	a := s.as(s.hire("Inge", "desk"), "GET", "/boats/HERON?history=all", nil).code(http.StatusOK)
	days := map[string]bool{}
	for _, r := range s.facts("HERON").Records {
		days[r.Day.String()] = true
	}
	for d := range days {
		a.holds("/take-back?day=" + d)
	}
}
