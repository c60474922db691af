package schedule_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// TestFewestDaysAgainstBruteForce tries every set of days on small instances:
// no smaller set hits every window.
func TestFewestDaysAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 9).Draw(t, "windows")
		var windows [][2]civil.Day
		for range n {
			from := civil.Day(rapid.IntRange(1, 12).Draw(t, "from"))
			windows = append(windows, [2]civil.Day{from, min(14, from+civil.Day(rapid.IntRange(0, 6).Draw(t, "width")))})
		}
		groups := schedule.FewestDays(windows)
		seen := make(map[int]bool)
		for _, g := range groups {
			from, to := windows[g[0]][0], windows[g[0]][1]
			for _, i := range g {
				if seen[i] {
					t.Fatalf("window %d is in two groups", i)
				}
				seen[i] = true
				from, to = max(from, windows[i][0]), min(to, windows[i][1])
			}
			if from > to {
				t.Fatalf("group %v has no day in common", g)
			}
		}
		if len(seen) != n {
			t.Fatalf("%d of %d windows grouped", len(seen), n)
		}
		if best := fewestByBruteForce(windows); len(groups) != best {
			t.Fatalf("%d days for %v, %d would do", len(groups), windows, best)
		}
	})
}

// fewestByBruteForce tries all sets of the days 1 to 14.
func fewestByBruteForce(windows [][2]civil.Day) int {
	best := 15
	for set := 0; set < 1<<14; set++ {
		n, hit := 0, 0
		for d := 1; d <= 14; d++ {
			n += set >> (d - 1) & 1
		}
		if n >= best {
			continue
		}
		for _, w := range windows {
			for d := w[0]; d <= w[1]; d++ {
				if set>>(d-1)&1 == 1 {
					hit++
					break
				}
			}
		}
		if hit == len(windows) {
			best = n
		}
	}
	return best
}

// TestPlanHolds draws whole boats and holds every plan to what must always be
// true of one.
func TestPlanHolds(t *testing.T) {
	pl := planner(t, small)
	services := []string{"engine-oil", "oil-check", "impeller", "lay-up", "fit-out", "battery", "extinguisher", "warranty-check"}
	rapid.Check(t, func(t *rapid.T) {
		today := d("2026-01-01") + civil.Day(rapid.IntRange(0, 800).Draw(t, "today"))
		f := facts(engine("E1"))
		if rapid.Bool().Draw(t, "twin") {
			f.Components = append(f.Components, engine("E2"))
		}
		f.Components = append(f.Components, schedule.Component{ID: "BAT", Kind: "battery"},
			schedule.Component{ID: "X1", Kind: "extinguisher", Made: d("2010-01-01") + civil.Day(rapid.IntRange(0, 5000).Draw(t, "made"))})
		if rapid.Bool().Draw(t, "warm") {
			f.Place = schedule.Place{Name: "Palm Basin"}
		}
		if rapid.Bool().Draw(t, "warranty") {
			f.Boat.WarrantyUntil = today + civil.Day(rapid.IntRange(-100, 300).Draw(t, "until"))
		}
		for i := range rapid.IntRange(0, 14).Draw(t, "records") {
			r := schedule.Record{
				ID: fmt.Sprint(i), Day: today - civil.Day(rapid.IntRange(0, 2500).Draw(t, "ago")),
				Service: rapid.SampledFrom(services).Draw(t, "service"),
				By:      rapid.SampledFrom([]string{"shop", "elsewhere", "before-sale"}).Draw(t, "by"),
			}
			if rapid.Bool().Draw(t, "engine's") {
				r.ComponentID = "E1"
			}
			f.Records = append(f.Records, r)
		}
		if rule := rapid.SampledFrom([]string{"", "lay-up", "fit-out", "engine-oil"}).Draw(t, "owner's"); rule != "" {
			f.Overrides = []schedule.Override{{BoatID: "B1", Rule: rule, ByCustomer: true}}
		}
		hours := 0
		for i := range rapid.IntRange(0, 5).Draw(t, "readings") {
			hours += rapid.IntRange(0, 2000).Draw(t, "hours")
			f.Readings = append(f.Readings, schedule.Reading{ComponentID: "E1", Day: today - civil.Day(1800-300*i), Hours: schedule.Hours(hours)})
		}
		p := pl.Plan(f, today)
		if !reflect.DeepEqual(p, pl.Plan(f, today)) {
			t.Fatal("the same facts gave two plans")
		}
		holds(t, pl, f, &p, today)
	})
}

func holds(t *rapid.T, pl *schedule.Planner, f *schedule.Facts, p *schedule.BoatPlan, today civil.Day) {
	inVisit := make(map[string]string)
	for _, v := range p.Visits {
		if v.Open > v.Close {
			t.Fatalf("%s opens %s after it closes %s", v.ID, v.Open, v.Close)
		}
		if v.Day < today && v.Day < v.Open {
			t.Fatalf("%s on %s, before its window and before today %s", v.ID, v.Day, today)
		}
		for _, k := range v.Items {
			if inVisit[k] != "" {
				t.Fatalf("%s is in %s and %s", k, inVisit[k], v.ID)
			}
			inVisit[k] = v.ID
		}
	}
	keys := make(map[string]bool)
	for i := range p.Items {
		it := &p.Items[i]
		if keys[it.Key()] {
			t.Fatalf("two items %s", it.Key())
		}
		keys[it.Key()] = true
		if it.Due == 0 || it.Open > it.Due || it.Close < it.Due {
			t.Fatalf("%s: due %s outside %s..%s", it.Key(), it.Due, it.Open, it.Close)
		}
		if it.VisitID != inVisit[it.Key()] {
			t.Fatalf("%s says visit %q, the visits say %q", it.Key(), it.VisitID, inVisit[it.Key()])
		}
		if it.Basis == schedule.BasisAsk || it.Basis == schedule.BasisDropped {
			if it.VisitID != "" || it.Price != 0 {
				t.Fatalf("%s is over and goes with %q", it.Key(), it.VisitID)
			}
			continue
		}
		if it.VisitID == "" && it.Due <= today+300 && !it.ByCustomer {
			t.Fatalf("%s falls due %s and nothing carries it (today %s)", it.Key(), it.Due, today)
		}
		if it.LastBy == schedule.ByElsewhere && it.LastVia != "" {
			t.Fatalf("%s counts from a %s elsewhere that did not name it", it.Key(), it.LastVia)
		}
		if it.ByCustomer && it.VisitID != "" {
			t.Fatalf("%s is the owner's and goes with %s", it.Key(), it.VisitID)
		}
		if it.CoveredBy != "" && !slices.ContainsFunc(p.Items, func(o schedule.DueItem) bool {
			return o.Service == it.CoveredBy && o.VisitID == it.VisitID && !o.ByCustomer
		}) {
			t.Fatalf("%s is part of %s, which nobody does in %s", it.Key(), it.CoveredBy, it.VisitID)
		}
		holdsTogether(t, p, it, today)
	}
	view := pl.View(f, p)
	for _, v := range view.Visits {
		for _, l := range v.Lines {
			if l.Why == "" || l.Title == "" {
				t.Fatalf("%s cannot explain itself", l.Item.Key())
			}
		}
	}
}

// holdsTogether: an item neither has a visit of its own nor comes after its grace
// while a season visit is planned in its time, with days enough to level in or
// none left to lose. The summer is not cut short for it.
func holdsTogether(t *rapid.T, p *schedule.BoatPlan, it *schedule.DueItem, today civil.Day) {
	k := slices.IndexFunc(p.Visits, func(v schedule.Visit) bool { return v.ID == it.VisitID })
	if k < 0 || it.Basis == schedule.BasisSeason || it.CoveredBy != "" {
		return
	}
	v := &p.Visits[k]
	from, to := max(it.Open, today.Week().Monday()), it.Close
	if it.Close < today {
		from, to = today.Week().Monday(), today.Week().Monday()+27
	}
	if it.Rule == "warranty-check" {
		to = min(to, it.ByDate)
		if v.Day > it.ByDate && !v.Booked() {
			t.Fatalf("the check comes on %s, the warranty ends %s", v.Day, it.ByDate)
		}
	}
	for i := range p.Visits {
		u := &p.Visits[i]
		days := min(to, u.Close) - max(from, u.Open) + 1
		if u.Kind == schedule.Extra || days < 1 || u.Deadline >= today && days < 14 || u.Kind == schedule.LayUp && to < d(fmt.Sprintf("%d-10-10", u.Season))-14 {
			continue
		}
		if v.Kind == schedule.Extra {
			t.Fatalf("%s (%s to %s) has %s of its own though %s comes %s to %s (today %s)", it.Key(), it.Open, it.Close, v.ID, u.ID, u.Open, u.Close, today)
		}
		if it.Close >= today && v.Day > it.Close {
			t.Fatalf("%s (%s to %s) goes with %s on %s though %s comes %s to %s (today %s)", it.Key(), it.Open, it.Close, v.ID, v.Day, u.ID, u.Open, u.Close, today)
		}
	}
}
