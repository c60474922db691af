package demo_test

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

var awkwardFolder = filepath.Join("..", "..", "..", "..", "testdata", "awkward")

func TestAwkwardFilesAreRefusedWhereTheyAreWrong(t *testing.T) {
	rows := rowsOf(t, filepath.Join(awkwardFolder, "expected.csv"))
	for _, row := range rows {
		t.Run(row[0], func(t *testing.T) {
			_, report, err := takeIn(t, filepath.Join(awkwardFolder, row[0]), workedPlace.Name)
			if !errors.Is(err, store.ErrIntake) {
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

func TestTheShopIsTakenInWithoutFaults(t *testing.T) {
	dir := t.TempDir()
	if err := shop(12).WriteTo(dir); err != nil {
		t.Fatal(err)
	}
	var places []string
	for _, p := range demo.Places() {
		places = append(places, p.Name)
	}
	_, report, err := takeIn(t, dir, places...)
	if err != nil {
		t.Fatalf("%v: %v", err, report.Faults)
	}
	// A year's model is sold from the August before, and the notes are what a
	// careful desk would look at: odd hull numbers, people without an address.
	if report.NoteCount == 0 || report.NoteCount > 40 {
		t.Errorf("%d notes, want a handful: %v", report.NoteCount, report.Notes)
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
