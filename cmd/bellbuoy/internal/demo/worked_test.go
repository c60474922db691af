package demo_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/store"
	"bellbuoy/store/imports"
)

var workedFolder = filepath.Join("..", "..", "..", "..", "testdata", "worked")

// workedPlace is where all boats of the worked cases float.
var workedPlace = schedule.Place{
	Name:   "Lindrake Cove",
	Launch: civil.MonthDay{Month: time.May, Day: 15},
	LayUp:  civil.MonthDay{Month: time.October, Day: 10},
}

func catalogue(t testing.TB) *rules.Catalogue {
	t.Helper()
	c, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// takeIn takes a folder into a new store.
func takeIn(t testing.TB, dir string, places ...string) (*store.DB, imports.Report, error) {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	var files []imports.File
	for _, name := range []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = f.Close() })
		files = append(files, imports.File{Name: name, R: f})
	}
	known := imports.Known{Services: catalogue(t).ServiceCodes(), Places: places}
	report, err := imports.Intake(t.Context(), db, today.At(12, 0, time.UTC), files, known, imports.IntakeOptions{})
	return db, report, err
}

// rowsOf reads a table beside its header.
func rowsOf(t testing.TB, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 {
		t.Fatalf("%s holds no rows", path)
	}
	return rows[1:]
}

// The due days were worked out by hand, with the reasons in the folder's
// README, before any planner was asked.
func TestWorkedByHand(t *testing.T) {
	db, report, err := takeIn(t, workedFolder, workedPlace.Name)
	if err != nil {
		t.Fatalf("%v: %v", err, report.Faults)
	}
	planner := schedule.NewPlanner(catalogue(t), schedule.DefaultSettings())
	plans := map[string]schedule.BoatPlan{}
	for _, row := range rowsOf(t, filepath.Join(workedFolder, "expected.csv")) {
		boat, component, rule, want := row[0], row[1], row[2], row[3]+" by "+row[4]
		t.Run(component+"/"+rule, func(t *testing.T) {
			if _, ok := plans[boat]; !ok {
				f, err := db.Facts(t.Context(), boat)
				if err != nil {
					t.Fatal(err)
				}
				f.Place = workedPlace
				plans[boat] = planner.Plan(&f, today)
			}
			var got []string
			for _, it := range plans[boat].Items {
				if it.ComponentID == component && it.Rule == rule {
					got = append(got, fmt.Sprintf("%s by %s", it.Due, it.Basis))
				}
			}
			if !slices.Contains(got, want) {
				t.Errorf("due %q, want %s", got, want)
			}
		})
	}
}
