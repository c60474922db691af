package main

import (
	"path/filepath"
	"testing"
)

// TestWorkedBoats takes in the four boats of testdata/worked, whose due days a
// person worked out by hand, and asks the plan command for every one of them.
func TestWorkedBoats(t *testing.T) {
	rows, err := readCSV(filepath.Join(testdata, "worked", "expected.csv"))
	if err != nil {
		t.Fatal(err)
	}
	s := newShop(t, larkspur(t, ""))
	s.today = "2026-11-25"
	s.do(t, "intake", filepath.Join(testdata, "worked"))

	type answer struct{ due, basis string }
	plans := map[string]map[string]answer{} // by boat, then component and rule
	for _, row := range rows {
		boat := row["boat_id"]
		if plans[boat] == nil {
			plans[boat] = map[string]answer{}
			for _, it := range doJSON[planJSON](t, s, "plan", boat).Items {
				// The first occurrence is the one worked out; items come in order.
				if key := it.Component + " " + it.Rule; plans[boat][key] == (answer{}) || it.Due.String() < plans[boat][key].due {
					plans[boat][key] = answer{it.Due.String(), it.Basis}
				}
			}
		}
		got, want := plans[boat][row["component_id"]+" "+row["rule"]], answer{row["due"], row["basis"]}
		if got != want {
			t.Errorf("%s %s %s: due %v, want %v", boat, row["component_id"], row["rule"], got, want)
		}
	}
	if len(rows) < 45 || len(plans) != 4 {
		t.Errorf("%d days of %d boats checked, want 49 of 4", len(rows), len(plans))
	}
}
