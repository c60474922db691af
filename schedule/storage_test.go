package schedule_test

import (
	"os"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
)

func TestChargeDueByType(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile("testdata/charging.toml")
	if err != nil {
		t.Fatal(err)
	}
	var f struct {
		Case []struct{ Battery, Stored, Charged, Due, Because string }
	}
	if err := toml.Unmarshal(b, &f); err != nil || len(f.Case) == 0 {
		t.Fatal("no cases", err)
	}
	p := schedule.NewPlanner(cat, schedule.DefaultSettings())
	for _, c := range f.Case {
		s := schedule.StoredBattery{Battery: schedule.Component{ID: "BT", Kind: "battery"}, Stored: day(c.Stored), Charged: day(c.Charged)}
		if c.Battery != "" {
			s.Battery.Attr.Extra = "battery=" + c.Battery
		}
		if due, r := p.ChargeDue(&s); r == nil || due != day(c.Due) {
			t.Errorf("%q stored %s, charged %s: due %s, want %s: %s", c.Battery, c.Stored, c.Charged, due, c.Due, c.Because)
		}
		if !p.Takes(&s.Boat, &s.Battery, schedule.ServiceCharge) {
			t.Errorf("a battery %q cannot be recorded as charged", c.Battery)
		}
	}
}

// What is done in storage has no place in a boat's plan.
func TestStorageMakesNoVisit(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	f := facts(engine("E1"), schedule.Component{ID: "BT", BoatID: "B1", Kind: "battery"})
	f.Boat.Berth = "shop-outside"
	f.Records = append(f.Records, did("2026-10-03", "lay-up", "", ""))
	plan := schedule.NewPlanner(cat, schedule.DefaultSettings()).Plan(f, d("2026-12-20"))
	for _, it := range plan.Items {
		if it.Service == schedule.ServiceCharge {
			t.Errorf("in the plan: %s due %s with %q", it.Rule, it.Due, it.VisitID)
		}
	}
}

// Boats at home: the owner charges, at the shortest time of what is aboard.
func TestHomeCharge(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	p := schedule.NewPlanner(cat, schedule.DefaultSettings())
	battery := func(id, kind string) schedule.Component {
		c := schedule.Component{ID: id, BoatID: "B1", Kind: "battery"}
		if kind != "" {
			c.Attr.Extra = "battery=" + kind
		}
		return c
	}
	for _, c := range []struct {
		name, berth string
		aboard      []schedule.Component
		days        int // 0 for nothing to say
		lithium     bool
	}{
		{"AGM at home", "own-dock", []schedule.Component{battery("A", "agm")}, 90, false},
		{"unknown counts as flooded", "trailer-home", []schedule.Component{battery("A", "")}, 30, false},
		{"the shortest of two", "own-lift", []schedule.Component{battery("A", "agm"), battery("B", "flooded")}, 30, false},
		{"lithium alone", "own-dock", []schedule.Component{battery("A", "lithium")}, 180, true},
		{"lithium beside AGM", "own-dock", []schedule.Component{battery("A", "lithium"), battery("B", "agm")}, 90, false},
		{"no battery on file", "own-dock", []schedule.Component{engine("E1")}, 0, false},
		{"stored with us", "shop-inside", []schedule.Component{battery("A", "agm")}, 0, false},
	} {
		f := facts(c.aboard...)
		f.Boat.Berth = c.berth
		r, lithium := p.HomeCharge(f)
		switch {
		case c.days == 0 && r != nil:
			t.Errorf("%s: every %d days, want nothing", c.name, r.StoredDays)
		case c.days != 0 && (r == nil || r.StoredDays != c.days || lithium != c.lithium):
			t.Errorf("%s: %+v, lithium %v, want every %d days, lithium %v", c.name, r, lithium, c.days, c.lithium)
		}
	}
}
