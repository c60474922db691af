package schedule_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestWhyOfVariedBoats plans boats of every sort with the built-in catalogue
// and compares every sentence that a customer would read with a file that
// somebody has read critically. -update writes the files; read them again then.
func TestWhyOfVariedBoats(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	family, err := rules.Parse("family.toml", []byte(familyText))
	if err != nil {
		t.Fatal(err)
	}
	pl := schedule.NewPlanner(cat.Extend(family), schedule.DefaultSettings())
	boats := variedBoats()
	if len(boats) < 20 {
		t.Fatalf("only %d boats", len(boats))
	}
	for _, b := range boats {
		t.Run(b.name, func(t *testing.T) {
			plan := pl.Plan(b.f, d(b.today))
			b.f.Prior = pencilled(plan.Visits, d(b.today))
			plan = pl.Plan(b.f, d(b.today))
			golden(t, filepath.Join("testdata", "why", b.name+".golden"), reading(pl.View(b.f, &plan), &plan, words.Format{}, b.today))
		})
	}
}

// pencilled puts every visit into the week that suits it best.
func pencilled(visits []schedule.Visit, today civil.Day) []schedule.Visit {
	out := append([]schedule.Visit{}, visits...)
	for i := range out {
		v := &out[i]
		// As the levelling has it: done by the end of a week before the deadline.
		v.Week = max(min(v.Day.Week(), (v.Deadline+1).Week()-1), min(v.Open.Week(), v.Day.Week()))
		if v.Day <= today {
			v.Week = today.Week()
		}
	}
	return out
}

// reading writes a plan as people read it.
func reading(v schedule.BoatView, plan *schedule.BoatPlan, in words.Format, today string) string {
	var s strings.Builder
	fmt.Fprintf(&s, "%s, %s at %s, on %s\n", v.Boat.Title(), v.Boat.Kind, v.Place.Name, in.Date(d(today)))
	line := func(l *schedule.Line) {
		included := ""
		if l.Included {
			included = " (included)"
		}
		fmt.Fprintf(&s, "- %s%s. %s\n", l.Title, included, l.Why)
	}
	for i := range v.Visits {
		vv := &v.Visits[i]
		fmt.Fprintf(&s, "\n%s, %d min. %s\n", vv.Title, vv.Visit.Labour, vv.Why)
		for k := range vv.Lines {
			line(&vv.Lines[k])
		}
	}
	if len(v.Loose) > 0 {
		fmt.Fprintf(&s, "\nIn no visit\n")
	}
	for i := range v.Loose {
		line(&v.Loose[i])
	}
	for _, p := range plan.Problems {
		fmt.Fprintf(&s, "\nProblem: %s\n", p)
	}
	return s.String()
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is not what it was; read it and run with -update if it is better now\n%s", path, firstDifference(string(want), got))
	}
}

func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(w), len(g)) {
		if w[i] != g[i] {
			return fmt.Sprintf("line %d was\n%s\nand is\n%s", i+1, w[i], g[i])
		}
	}
	return fmt.Sprintf("it had %d lines and has %d", len(w), len(g))
}

// familyText is what a shop would write about one family of engines.
const familyText = `
[[family]]
name = "shallow-four"
title = "Shallow-draft fours"
[[family.rule]]
code = "impeller"
every = { hours = 200, months = 24 }
source = { kind = "published", text = "the maker's manual for these engines, p. 41" }
[[family.rule]]
code = "valve-clearance"
skip = true
source = { kind = "published", text = "the same manual, p. 43: hydraulic lifters" }
`

var (
	warm = schedule.Place{Name: "Palm Basin"}
	lake = schedule.Place{Name: "Alder Cove", Launch: civil.MonthDay{Month: 5, Day: 15}, LayUp: civil.MonthDay{Month: 10, Day: 10},
		Source: "the first night at or below 32 °F has come by October 10 in one year in ten, Alder Cove, autumns 1991–2020"}
)
