package schedule_test

import (
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
)

// The pump oil of a personal watercraft has no price in the catalog: a visit with it
// says that more is quoted first. A runabout's winterization has a price for all of
// its jobs, looks that cost nothing aside.
func TestWhatHasNoPriceIsQuotedFirst(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	pl := schedule.NewPlanner(cat, schedule.DefaultSettings())
	for kind, want := range map[string]bool{"personal": true, "runabout": false} {
		e := engine("E1")
		if kind == "personal" {
			e.Attr.Propulsion = "jet"
		}
		f := facts(e)
		f.Boat.Kind = kind
		f.Records = []schedule.Record{did("2025-09-20", "pwc-pump-oil", "", "")}
		p := pl.Plan(f, d("2027-08-01"))
		view := pl.View(f, &p)
		seen := false
		for _, v := range view.Visits {
			if v.Visit.Kind == schedule.LayUp && v.Visit.Season == 2027 {
				seen = true
				if v.QuotedFirst != want || v.Visit.Price <= 0 {
					t.Errorf("%s: %s says quoted first %v, price %d", kind, v.Visit.ID, v.QuotedFirst, v.Visit.Price)
				}
			}
		}
		if !seen {
			t.Errorf("%s: no winterization", kind)
		}
	}
}
