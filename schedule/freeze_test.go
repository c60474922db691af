package schedule_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
)

// October 10, 2026 is a Saturday.
var hardFreeze = schedule.Freeze{Night: d("2026-10-10"), Tenths: -40}

func builtIn(t testing.TB) *schedule.Planner {
	t.Helper()
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	return schedule.NewPlanner(cat, schedule.DefaultSettings())
}

// freezing is a boat with one gasoline engine.
func freezing(propulsion, cooling, berth string) *schedule.Facts {
	c := schedule.Component{ID: "E1", BoatID: "B1", Kind: "engine", Label: "Engine",
		Attr: schedule.Attr{Propulsion: propulsion, Cooling: cooling, Stroke: "four", Fuel: "gasoline"}}
	f := facts(c)
	f.Boat.Kind, f.Boat.Berth = "runabout", berth
	return f
}

func TestAtRiskByHand(t *testing.T) {
	p, today := builtIn(t), d("2026-10-07")
	colder := schedule.Freeze{Night: hardFreeze.Night, Tenths: -70}
	for _, c := range []struct {
		name   string
		f      *schedule.Facts
		change func(*schedule.Facts)
		freeze schedule.Freeze
		want   schedule.Danger
		why    string
	}{
		{name: "raw water on a trailer", f: freezing("sterndrive", "raw-water", "trailer-home"), want: schedule.DangerRaw, why: "Sterndrive with raw-water cooling: block and manifolds hold water, on its trailer."},
		{name: "raw water on a lift", f: freezing("inboard", "raw-water", "own-lift"), want: schedule.DangerRaw, why: "out of the water on a lift"},
		{name: "cooling unknown counts as raw water", f: freezing("inboard", "", "shop-outside"), want: schedule.DangerRaw, why: "not on file"},
		{name: "raw water in a building without heat", f: freezing("inboard", "raw-water", "shop-inside"), want: schedule.DangerClosed, why: "without heat"},
		{name: "heated storage never", f: freezing("inboard", "raw-water", "shop-heated")},
		{name: "closed cooling", f: freezing("inboard", "closed", "trailer-home"), want: schedule.DangerClosed, why: "heat exchanger"},
		{name: "afloat at -4 °C", f: freezing("inboard", "raw-water", "own-dock")},
		{name: "afloat at -7 °C", f: freezing("inboard", "raw-water", "own-dock"), freeze: colder, want: schedule.DangerAfloat, why: "afloat"},
		{name: "afloat in cold water", f: freezing("inboard", "raw-water", "own-dock"),
			change: func(f *schedule.Facts) { f.Place.ColdWater.Month, f.Place.ColdWater.Day = 10, 10 }, want: schedule.DangerAfloat},
		{name: "afloat, the water still warm", f: freezing("inboard", "raw-water", "own-dock"),
			change: func(f *schedule.Facts) { f.Place.ColdWater.Month, f.Place.ColdWater.Day = 10, 11 }},
		{name: "an outboard may be tilted", f: freezing("outboard", "raw-water", "own-dock"), want: schedule.DangerTilted, why: "tilted up"},
		{name: "an outboard upright", f: freezing("outboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Components[0].Attr.Extra = "kept=upright" }, want: schedule.DangerUpright},
		{name: "an outboard upright and afloat", f: freezing("outboard", "raw-water", "own-dock"),
			change: func(f *schedule.Facts) { f.Components[0].Attr.Extra = "kept=upright" }},
		{name: "a jet", f: freezing("jet", "raw-water", "trailer-home"), want: schedule.DangerUpright},
		{name: "an outboard with a livewell", f: freezing("outboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Boat.Kind = "fishing" }, want: schedule.DangerSystems, why: "Livewell, washdown and their pumps"},
		{name: "an outboard on a cruiser", f: freezing("outboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Boat.Kind = "cruiser" }, want: schedule.DangerSystems, why: "Fresh water, head and bilge lines: holds"},
		{name: "an electric motor", f: freezing("electric", "", "trailer-home"),
			change: func(f *schedule.Facts) { f.Components[0].Attr.Fuel = "electric" }},
		{name: "winterized this fall", f: freezing("inboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Records = append(f.Records, did("2026-09-20", "lay-up", "", "")) }},
		{name: "winterized last fall only", f: freezing("inboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Records = append(f.Records, did("2025-09-20", "lay-up", "", "")) }, want: schedule.DangerRaw},
		{name: "winterized, commissioned again, a freeze in April", f: freezing("inboard", "raw-water", "trailer-home"),
			freeze: schedule.Freeze{Night: d("2026-04-20"), Tenths: -40},
			change: func(f *schedule.Facts) {
				f.Records = append(f.Records, did("2025-09-20", "lay-up", "", ""), did("2026-04-10", "fit-out", "", ""))
			}, want: schedule.DangerRaw},
		{name: "sold or gone", f: freezing("inboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Boat.Gone = d("2026-10-01") }},
		{name: "a warm place that freezes for once", f: freezing("inboard", "raw-water", "trailer-home"),
			change: func(f *schedule.Facts) { f.Place = schedule.Place{Name: "Warm Bay"} }, want: schedule.DangerRaw},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.change != nil {
				c.change(c.f)
			}
			freeze := c.freeze
			if freeze.Night == 0 {
				freeze = hardFreeze
			}
			day := today
			if freeze.Night < day {
				day = freeze.Night - 3
			}
			got := p.AtRisk(c.f, day, freeze)
			if got.Danger != c.want || !strings.Contains(got.Why, c.why) || (got.Why == "") != (c.want == schedule.NoDanger) {
				t.Errorf("danger %d, %q; want %d, %q", got.Danger, got.Why, c.want, c.why)
			}
		})
	}
}

// The place's last day is October 10. A freeze in the night to the 8th is due by
// the 7th; one that comes later changes nothing, nor one that breaks nothing.
func TestAForecastFreezeBringsTheDeadlineForward(t *testing.T) {
	p := builtIn(t)
	for _, c := range []struct {
		name, berth, night, want string
	}{
		{"no freeze", "trailer-home", "", "2026-10-10"},
		{"before the last day", "trailer-home", "2026-10-08", "2026-10-07"},
		{"after it", "trailer-home", "2026-10-20", "2026-10-10"},
		{"afloat", "own-dock", "2026-10-08", "2026-10-10"},
		{"last fall's", "trailer-home", "2025-10-08", "2026-10-10"},
	} {
		f := freezing("inboard", "raw-water", c.berth)
		if c.night != "" {
			f.Place.Freeze = schedule.Freeze{Night: d(c.night), Tenths: -40}
		}
		plan := p.Plan(f, d("2026-09-28"))
		it, v := find(t, plan, "E1", "lay-up-inboard-raw-water"), visit(t, plan, "B1.lay-up.2026")
		if it.Due != d(c.want) || v.Deadline != d(c.want) {
			t.Errorf("%s: due %s, visit by %s; want %s", c.name, it.Due, v.Deadline, c.want)
		}
		if c.want != "2026-10-10" {
			if got := why(t, p, f, plan, "lay-up-inboard-raw-water"); !strings.Contains(got, "25°F in the night to Thursday, October 8") {
				t.Errorf("%s: %q", c.name, got)
			}
			if got := p.VisitWhy(&v, f.Place); !strings.Contains(got, "by the forecast") {
				t.Errorf("%s: %q", c.name, got)
			}
		}
	}
}

// A boat that stood out in a freeze that was called is looked over in spring,
// also where it was winterized a week later; one that was done before is not.
func TestWhoStoodOutIsCheckedInSpring(t *testing.T) {
	p := builtIn(t)
	for _, c := range []struct {
		name, record string
		want         bool
	}{
		{"winterized before", "2026-10-09", false},
		{"winterized after", "2026-10-14", true},
	} {
		f := freezing("inboard", "raw-water", "trailer-home")
		f.Records = append(f.Records, did(c.record, "lay-up", "", ""))
		has := func() bool {
			for _, it := range p.Plan(f, d("2026-11-20")).Items {
				if it.Rule == "freeze-check" && it.Season == 2027 {
					return true
				}
			}
			return false
		}
		if has() {
			t.Errorf("%s: checked although no freeze was called", c.name)
		}
		f.Place.StoodOut = hardFreeze
		if got := has(); got != c.want {
			t.Errorf("%s: freeze-damage check %v, want %v", c.name, got, c.want)
		}
		if c.want {
			if got := why(t, p, f, p.Plan(f, d("2026-11-20")), "freeze-check"); !strings.Contains(got, "when a hard freeze was called") {
				t.Errorf("%s: %q", c.name, got)
			}
		}
	}
}
