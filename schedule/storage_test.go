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
		f := facts(schedule.Component{ID: "BT", BoatID: "B1", Kind: "battery"})
		f.Boat.Berth = "shop-outside"
		if c.Battery != "" {
			f.Components[0].Attr.Extra = "battery=" + c.Battery
		}
		f.Records = append(f.Records, did(c.Stored, "lay-up", "", ""))
		if c.Charged != "" {
			f.Records = append(f.Records, did(c.Charged, "battery-charge", "BT", ""))
		}
		plan := p.Plan(f, d("2026-12-20"))
		it := stored(&plan)
		if it == nil || it.Due != day(c.Due) {
			t.Errorf("%q stored %s, charged %s: %+v, want due %s: %s", c.Battery, c.Stored, c.Charged, it, c.Due, c.Because)
		}
		if !p.Takes(&f.Boat, &f.Components[0], schedule.ServiceCharge) {
			t.Errorf("a battery %q cannot be recorded as charged", c.Battery)
		}
	}
}

// stored is what a plan asks for in storage, nil for nothing.
func stored(p *schedule.BoatPlan) *schedule.DueItem {
	for i := range p.Items {
		if p.Items[i].Basis == schedule.BasisStored {
			return &p.Items[i]
		}
	}
	return nil
}

// What is done in storage makes no visit, is told to nobody and costs nothing;
// it begins with the lay-up or haul-out and ends with the launch.
func TestStorageMakesNoVisit(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	p := schedule.NewPlanner(cat, schedule.DefaultSettings())
	for _, c := range []struct {
		name, berth string
		records     []schedule.Record
		want        bool
	}{
		{"laid up with us", "shop-outside", []schedule.Record{did("2026-10-03", "lay-up", "", "")}, true},
		{"hauled out elsewhere, then with us", "shop-inside", []schedule.Record{did("2026-10-03", "haul-out", "", "")}, true},
		{"at the owner's dock", "own-dock", []schedule.Record{did("2026-10-03", "lay-up", "", "")}, false},
		{"not laid up yet", "shop-outside", nil, false},
		{"launched again", "shop-outside", []schedule.Record{did("2026-10-03", "haul-out", "", ""), did("2026-10-20", "launch", "", "")}, false},
		{"laid up two winters ago", "shop-outside", []schedule.Record{did("2025-10-03", "lay-up", "", "")}, false},
	} {
		f := facts(engine("E1"), schedule.Component{ID: "BT", BoatID: "B1", Kind: "battery"})
		f.Boat.Berth, f.Records = c.berth, c.records
		plan := p.Plan(f, d("2026-12-20"))
		it := stored(&plan)
		if (it != nil) != c.want {
			t.Errorf("%s: %+v", c.name, it)
		}
		if it != nil && (it.VisitID != "" || it.Price != 0 || it.Labour != 0) {
			t.Errorf("%s: with visit %q, %d minutes, %s", c.name, it.VisitID, it.Labour, it.Price)
		}
		for _, l := range p.View(f, &plan).Loose {
			if l.Item.Basis == schedule.BasisStored {
				t.Errorf("%s: the owner may read %q", c.name, l.Title)
			}
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
