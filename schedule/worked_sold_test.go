package schedule_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule"
)

// sold is an ordinary boat whose sale lies on a day.
func sold(day string, more ...schedule.Record) func(*schedule.Facts) {
	return func(f *schedule.Facts) {
		f.Boat.SoldOn = d(day)
		f.Records = append(f.Records, more...)
	}
}

// TestWorkedSalesNearWinter: water left in a block freezes whoever owns it, so
// a lay-up is open until one is on record since midsummer, and a boat that is
// sold after the last day for it is laid up at once. The place's days are 10
// October and 15 May.
func TestWorkedSalesNearWinter(t *testing.T) {
	runWorked(t, []worked{
		{"sold October 9, deadline the day after", "the deadline is still to come and nothing is on record", "2026-10-09",
			sold("2026-10-09"), "E1", "lay-up", "2026-10-10", schedule.BasisSeason, "B1.lay-up.2026"},
		{"the same boat three weeks later", "October 10 is past and still nothing is on record", "2026-10-30",
			sold("2026-10-09"), "E1", "lay-up", "2026-10-10", schedule.BasisSeason, "B1.lay-up.2026"},
		{"sold November 14, deadline October 10", "due on the day of the sale, as the deadline was before it", "2026-11-14",
			sold("2026-11-14"), "E1", "lay-up", "2026-11-14", schedule.BasisSeason, "B1.lay-up.2026"},
		{"the same boat four weeks later", "it is still not laid up, and may be for thirty days from the sale", "2026-12-12",
			sold("2026-11-14"), "E1", "lay-up", "2026-11-14", schedule.BasisSeason, "B1.lay-up.2026"},
		{"the same boat in January", "what freezes has frozen: the desk asks whether it was done", "2027-01-20",
			sold("2026-11-14"), "E1", "lay-up", "2026-11-14", schedule.BasisAsk, ""},
		{"laid up before the sale, after the deadline", "November 2 is since midsummer: this winter has its lay-up", "2026-11-14",
			sold("2026-11-14", did("2026-11-02", "lay-up", "", "")), "E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"laid up after the sale", "whoever owned it, it was laid up on November 20", "2026-11-25",
			sold("2026-11-14", did("2026-11-20", "lay-up", "", "")), "E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"one of two engines laid up", "the record names the other engine", "2026-11-14",
			func(f *schedule.Facts) {
				f.Components = append(f.Components, engine("E2"))
				sold("2026-11-14", did("2026-11-02", "lay-up", "E2", ""))(f)
			}, "E1", "lay-up", "2026-11-14", schedule.BasisSeason, "B1.lay-up.2026"},
		{"laid up the winter before", "June 23 is before midsummer: that was last winter's", "2026-11-14",
			sold("2026-11-14", did("2026-06-23", "lay-up", "", "")), "E1", "lay-up", "2026-11-14", schedule.BasisSeason, "B1.lay-up.2026"},
		{"sold on February 1", "it freezes until spring, so it is laid up at once", "2027-02-01",
			sold("2027-02-01"), "E1", "lay-up", "2027-02-01", schedule.BasisSeason, "B1.lay-up.2026"},
		{"sold on April 5", "40 days before launch what the freeze did is done: made ready instead", "2027-04-05",
			sold("2027-04-05"), "E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"traded in, laid up in stock, sold again in November", "the shop's own lay-up of September 20 counts for the buyer", "2026-11-14",
			sold("2026-11-14", did("2024-10-02", "lay-up", "", ""), did("2026-09-20", "lay-up", "", "")), "E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"traded in, not laid up, sold again in November", "the lay-up of 2024 is another winter's", "2026-11-14",
			sold("2026-11-14", did("2024-10-02", "lay-up", "", "")), "E1", "lay-up", "2026-11-14", schedule.BasisSeason, "B1.lay-up.2026"},
		{"bought elsewhere, new to us in November", "never sold by us, nothing on record, 35 days after the deadline: somebody asks", "2026-11-14",
			func(f *schedule.Facts) { f.Boat.SoldOn = 0 }, "E1", "lay-up", "2026-10-10", schedule.BasisAsk, ""},
		{"sold in November where it does not freeze", "no winter, no lay-up", "2026-11-14",
			func(f *schedule.Facts) {
				f.Boat.SoldOn, f.Boat.Place, f.Place = d("2026-11-14"), "Palm Basin", schedule.Place{Name: "Palm Basin"}
			}, "E1", "lay-up", "", "", ""},
		{"sold November 14, the fit-out after", "the next launch", "2026-11-14",
			sold("2026-11-14"), "E1", "fit-out", "2027-05-15", schedule.BasisSeason, "B1.fit-out.2027"},
		{"sold in June, nothing on record", "it was made ready for the water when it was sold", "2026-06-10",
			sold("2026-06-10"), "E1", "fit-out", "2027-05-15", schedule.BasisSeason, "B1.fit-out.2027"},
		{"sold in June, laid up in October and nothing since", "by the file it is still laid up: made ready at once", "2026-06-10",
			sold("2026-06-10", did("2025-10-02", "lay-up", "", "")), "E1", "fit-out", "2026-06-10", schedule.BasisSeason, "B1.fit-out.2026"},
		{"sold in June, laid up in October, made ready for the sale", "the fit-out of June 1 is on record", "2026-06-10",
			sold("2026-06-10", did("2025-10-02", "lay-up", "", ""), did("2026-06-01", "fit-out", "", "")), "E1", "fit-out", "2027-05-15", schedule.BasisSeason, "B1.fit-out.2027"},
	})
}

// TestSeasonBeforeWasOurs: the season before is missed only if it was the
// shop's to do.
func TestSeasonBeforeWasOurs(t *testing.T) {
	for _, c := range []struct {
		sold, today, rule string
		missed            bool
	}{
		{"2026-11-14", "2027-09-01", "lay-up", true},   // open from its sale to the spring, and never done
		{"2026-06-10", "2026-09-01", "lay-up", false},  // it was afloat when it was sold
		{"2026-05-01", "2027-03-01", "fit-out", false}, // made ready at the sale
		{"2026-02-01", "2027-03-01", "fit-out", true},
	} {
		f := facts(engine("E1"))
		f.Boat.SoldOn = d(c.sold)
		p := planner(t, small).Plan(f, d(c.today))
		if it := find(t, p, "E1", c.rule); it.MissedLast != c.missed {
			t.Errorf("sold %s, %s of %d on %s: missed the season before %v, want %v", c.sold, c.rule, it.Season, c.today, it.MissedLast, c.missed)
		}
	}
}

// TestLateSaleSaysWhy: the words do not call the day of the sale the place's
// last day.
func TestLateSaleSaysWhy(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Boat.SoldOn = d("2026-11-14")
	p := pl.Plan(f, d("2026-11-14"))
	text := why(t, pl, f, p, "lay-up")
	if !strings.Contains(text, "sold on November 14, 2026, after October 10, 2026") || strings.Contains(text, "by November 14") {
		t.Errorf("reason %q", text)
	}
}

// TestLeftToFreeze: the check sees a boat that the plan overlooks, and no other.
func TestLeftToFreeze(t *testing.T) {
	pl := planner(t, small)
	for _, c := range []struct {
		name, today string
		change      func(*schedule.Facts)
		want        bool // of an empty plan; a real one always has the lay-up
	}{
		{"sold after the deadline", "2026-11-14", sold("2026-11-14"), true},
		{"laid up", "2026-11-14", sold("2026-11-14", did("2026-11-02", "lay-up", "", "")), false},
		{"spring", "2027-04-05", sold("2026-11-14"), false},
		{"not on this boat", "2026-11-14", func(f *schedule.Facts) {
			f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "lay-up", Skip: true}}
		}, false},
		{"gone", "2026-11-14", func(f *schedule.Facts) { f.Boat.Gone = d("2026-11-01") }, false},
		{"no winter", "2026-11-14", func(f *schedule.Facts) { f.Place = schedule.Place{Name: "Palm Basin"} }, false},
	} {
		f := facts(engine("E1"))
		c.change(f)
		if got := pl.LeftToFreeze(f, &schedule.BoatPlan{}, d(c.today)); got != c.want {
			t.Errorf("%s: left to freeze %v, want %v", c.name, got, c.want)
		}
		if p := pl.Plan(f, d(c.today)); pl.LeftToFreeze(f, &p, d(c.today)) {
			t.Errorf("%s: left to freeze by its own plan", c.name)
		}
	}
}
