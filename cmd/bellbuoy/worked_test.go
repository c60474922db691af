package main

import (
	"path/filepath"
	"testing"
)

// TestWorkedBoats takes in the boats whose due days a person worked out by hand,
// and asks the plan command for every one of them.
func TestWorkedBoats(t *testing.T) {
	t.Run("four boats", func(t *testing.T) { testWorkedBoats(t, "worked", 49, 4) })
	t.Run("sold near the winter", func(t *testing.T) { testWorkedBoats(t, "worked-sales", 8, 4) })
	t.Run("inboard, generator, watercraft", func(t *testing.T) { testWorkedBoats(t, "worked-rules", 19, 3) })
}

// testWorkedBoats takes in a folder of so many boats with so many days.
func testWorkedBoats(t *testing.T, folder string, days, boats int) {
	rows, err := readCSV(filepath.Join(testdata, folder, "expected.csv"))
	if err != nil {
		t.Fatal(err)
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, folder))

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
	if len(rows) != days || len(plans) != boats {
		t.Errorf("%d days of %d boats checked, want %d of %d", len(rows), len(plans), days, boats)
	}
}
