package demo_test

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports"
)

var awkwardFolder = filepath.Join("..", "..", "..", "..", "testdata", "awkward")

func TestAwkwardFilesAreRefusedWhereTheyAreWrong(t *testing.T) {
	rows := rowsOf(t, filepath.Join(awkwardFolder, "expected.csv"))
	for _, row := range rows {
		t.Run(row[0], func(t *testing.T) {
			_, report, err := takeIn(t, filepath.Join(awkwardFolder, row[0]), workedPlace.Name)
			if !errors.Is(err, imports.ErrIntake) {
				t.Fatalf("error %v, want a refusal", err)
			}
			line, err := strconv.Atoi(row[2])
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range report.Faults {
				if f.File == row[1] && f.Line == line && f.Field == row[3] && holds(f.What, row[4]) {
					return
				}
			}
			t.Errorf("faults %q\nwant one at %s:%s: %s with the words %q", report.Faults, row[1], row[2], row[3], row[4])
		})
	}
	folders, err := filepath.Glob(filepath.Join(awkwardFolder, "*", "boats.csv"))
	if err != nil || len(folders) != len(rows) {
		t.Errorf("%d folders and %d expectations (%v)", len(folders), len(rows), err)
	}
}

func holds(text, words string) bool {
	for w := range strings.SplitSeq(words, "|") {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

func TestTheShopIsTakenInAndPlannedWithoutFaults(t *testing.T) {
	if testing.Short() {
		t.Skip("takes in and plans a whole shop")
	}
	dir := t.TempDir()
	if err := shop(12).WriteTo(dir); err != nil {
		t.Fatal(err)
	}
	var names []string
	places := map[string]schedule.Place{}
	for _, p := range demo.Places() {
		names = append(names, p.Name)
		places[p.Name] = p
	}
	db, report, err := takeIn(t, dir, names...)
	if err != nil {
		t.Fatalf("%v: %v", err, report.Faults)
	}
	// The notes are what a careful desk would look at: odd hull numbers, people
	// who want mail and gave no address.
	if report.NoteCount == 0 || report.NoteCount > 40 {
		t.Errorf("%d notes, want a handful: %v", report.NoteCount, report.Notes)
	}
	planner := schedule.NewPlanner(catalogue(t), schedule.DefaultSettings())
	planned := 0
	err = db.EachFacts(t.Context(), nil, func(f *schedule.Facts) error {
		f.Place = places[f.Boat.Place]
		plan := planner.Plan(f, today)
		if planned++; len(plan.Problems) > 0 || len(plan.Items) == 0 {
			t.Errorf("boat %s: %d items, problems %q", f.Boat.ID, len(plan.Items), plan.Problems)
		}
		return nil
	})
	if err != nil || planned != 400 {
		t.Errorf("%d boats planned, want 400: %v", planned, err)
	}
}

func TestEveryServiceIsInTheCatalogue(t *testing.T) {
	c, asked := catalogue(t), map[string]bool{}
	for _, r := range shop(2).Records {
		if !asked[r.Service] && !c.HasService(r.Service) {
			t.Errorf("service %q is unknown", r.Service)
		}
		asked[r.Service] = true
	}
	if len(asked) < 20 {
		t.Errorf("only %d services, want a varied history", len(asked))
	}
}

func TestFolderThatCannotBeWritten(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a-file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := demo.Generate(source(1), civil.Of(2026, 11, 25), 1, 6).WriteTo(file); err == nil {
		t.Error("written into a file that is no folder")
	}
}
