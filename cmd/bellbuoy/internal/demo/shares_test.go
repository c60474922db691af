package demo_test

import (
	"slices"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// fleet is large enough for shares to be near what the tables ask for.
func fleet() *demo.Shop { return demo.Generate(source(11), today, 4000, 6) }

func count[T any](things []T, is func(T) bool) float64 {
	n := 0
	for _, t := range things {
		if is(t) {
			n++
		}
	}
	return float64(n)
}

// within fails unless part of whole lies in lo to hi per cent.
func within(t *testing.T, what string, part, whole, lo, hi float64) {
	t.Helper()
	if p := 100 * part / whole; !(p >= lo && p <= hi) {
		t.Errorf("%s: %.1f %%, want %g to %g %%", what, p, lo, hi)
	}
}

func TestSharesOfTheFleet(t *testing.T) {
	s := fleet()
	hulls := float64(4000)
	engine := func(is func(schedule.Component) bool) float64 {
		return count(s.Components, func(c schedule.Component) bool { return c.Kind == "engine" && is(c) })
	}
	engines := engine(func(schedule.Component) bool { return true })
	within(t, "twins", engine(func(c schedule.Component) bool { return c.Label == "Port engine" }), hulls, 5, 15)
	within(t, "four-stroke outboards", engine(func(c schedule.Component) bool {
		return c.Attr.Propulsion == "outboard" && c.Attr.Stroke == "four"
	}), engines, 45, 70)
	within(t, "diesels", engine(func(c schedule.Component) bool { return c.Attr.Fuel == "diesel" }), engines, 3, 15)
	within(t, "severe duty", engine(func(c schedule.Component) bool { return c.Duty == 50 }), engines, 2, 7)
	within(t, "resold hulls", count(s.Boats, func(b demo.BoatLine) bool { return b.CustomerID == "" }), hulls, 4, 15)
	within(t, "warm harbour", count(s.Boats, func(b demo.BoatLine) bool { return b.Place == "Sable Quay" }), hulls, 2, 9)
	within(t, "never sold by the shop", count(s.Boats, func(b demo.BoatLine) bool { return b.SoldOn == 0 }), hulls, 8, 18)
}

func TestSharesOfTheCustomers(t *testing.T) {
	s := fleet()
	all := float64(len(s.Customers))
	within(t, "customers to hulls", all, 4000, 78, 92)
	within(t, "no address", count(s.Customers, func(c schedule.Customer) bool { return c.Email == "" }), all, 6, 12)
	within(t, "to be rung", count(s.Customers, func(c schedule.Customer) bool { return c.ContactBy == "phone" }), all, 9, 17)
	within(t, "not to be told", count(s.Customers, func(c schedule.Customer) bool { return c.ContactBy == "none" }), all, 1, 5)
	within(t, "names beyond ASCII", count(s.Customers, func(c schedule.Customer) bool {
		return slices.ContainsFunc([]rune(c.Name), func(r rune) bool { return r > 127 })
	}), all, 30, 75)
}

func TestSharesOfTheHistory(t *testing.T) {
	s := fleet()
	of := func(service string, more func(schedule.Record) bool) float64 {
		return count(s.Records, func(r schedule.Record) bool { return r.Service == service && more(r) })
	}
	any := func(schedule.Record) bool { return true }
	layUps, fitOuts := of("lay-up", any), of("fit-out", any)
	within(t, "lay-ups in September and October", of("lay-up", func(r schedule.Record) bool {
		return r.Day.Month() == time.September || r.Day.Month() == time.October
	}), layUps, 93, 100)
	within(t, "fit-outs in April and May", of("fit-out", func(r schedule.Record) bool {
		return r.Day.Month() == time.April || r.Day.Month() == time.May
	}), fitOuts, 93, 100)
	within(t, "work done elsewhere", of("lay-up", func(r schedule.Record) bool { return r.By == schedule.ByElsewhere }), layUps, 3, 15)
	within(t, "records with a meter figure", count(s.Records, func(r schedule.Record) bool { return r.HasHours }), float64(len(s.Records)), 30, 70)
	within(t, "records a hull", float64(len(s.Records)), 4000, 3200, 5200)
	if n := count(s.Readings, func(r schedule.Reading) bool { return r.NewMeter }); n == 0 {
		t.Error("no meter was ever replaced")
	}
}

// About every third year: the middle one of all gaps between two impellers of
// the same engine.
func TestImpellersComeAboutEveryThirdYear(t *testing.T) {
	last, gaps := map[string]civil.Day{}, []civil.Day{}
	for _, r := range fleet().Records {
		if r.Service != "impeller" {
			continue
		}
		if before, again := last[r.ComponentID]; again {
			gaps = append(gaps, r.Day-before)
		}
		last[r.ComponentID] = r.Day
	}
	if len(gaps) < 50 {
		t.Fatalf("only %d gaps", len(gaps))
	}
	slices.Sort(gaps)
	if middle := gaps[len(gaps)/2]; middle < 850 || middle > 1200 {
		t.Errorf("middle gap %d days, want about 1,095", middle)
	}
}

func BenchmarkParts(b *testing.B) {
	for b.Loop() {
		for range demo.Parts(source(1), today, 1000, 6) {
		}
	}
	b.ReportMetric(1000*float64(b.N)/b.Elapsed().Seconds(), "boats/s")
}
