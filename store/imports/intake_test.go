package imports_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/store/imports"
	"bellbuoy/store/storetest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// folder reads the files of a case.
func folder(t testing.TB, dir string) []imports.File {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no files in %s: %v", dir, err)
	}
	var all []imports.File
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, imports.File{Name: name, R: bytes.NewReader(data)})
	}
	return all
}

// print writes a report as the golden files keep it.
func print(r imports.Report) string {
	var b strings.Builder
	for _, f := range r.Files {
		fmt.Fprintf(&b, "%s: %d rows, %d new, %d changed, %d unchanged\n", f.Name, f.Rows, f.New, f.Changed, f.Unchanged)
	}
	fmt.Fprintf(&b, "%d faults\n", r.FaultCount)
	for _, f := range r.Faults {
		fmt.Fprintln(&b, f.Error())
	}
	fmt.Fprintf(&b, "%d notes\n", r.NoteCount)
	for _, f := range r.Notes {
		fmt.Fprintln(&b, f.Error())
	}
	return b.String()
}

// Each folder is taken in by a shop that knows the small fleet; what must be
// said about it stands in report.golden.
func TestIntakeReports(t *testing.T) {
	dirs, err := filepath.Glob("testdata/intake/*")
	if err != nil || len(dirs) == 0 {
		t.Fatalf("no cases: %v", err)
	}
	for _, dir := range dirs {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			before := everything(t, db)
			rep, err := imports.Intake(t.Context(), db, noon, folder(t, dir), known(), imports.IntakeOptions{Actor: "test"})
			if rep.Refused() != errors.Is(err, imports.ErrIntake) || err != nil && !rep.Refused() {
				t.Fatalf("%d faults and error %v", rep.FaultCount, err)
			}
			if rep.Refused() && everything(t, db) != before {
				t.Error("something was taken in although there were faults")
			}
			golden(t, filepath.Join(dir, "report.golden"), print(rep))
		})
	}
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("report differs (-want +got):\n%s", diff)
	}
}

func TestIntakeTrialWritesNothing(t *testing.T) {
	db := open(t)
	rep, err := imports.Intake(t.Context(), db, noon, files(small()), known(), imports.IntakeOptions{DryRun: true})
	if err != nil || rep.Refused() || len(rep.Files) != 5 {
		t.Fatalf("trial: %+v, %v", rep, err)
	}
	if got := everything(t, db); got != "" {
		t.Errorf("a trial wrote %s", got)
	}
	if take(t, db, small()); everything(t, db) == "" {
		t.Error("after a trial nothing could be taken in")
	}
}

func TestIntakeListsOnlySoManyFaults(t *testing.T) {
	db := open(t)
	m := small()
	m["history.csv"] += strings.Repeat("B1,E1,soon,impeller,,,shop,\n", 50)
	rep, err := imports.Intake(t.Context(), db, noon, files(m), known(), imports.IntakeOptions{MaxFaults: 7})
	if !errors.Is(err, imports.ErrIntake) || len(rep.Faults) != 7 || rep.FaultCount != 50 {
		t.Errorf("%d of %d faults listed, %v; want 7 of 50", len(rep.Faults), rep.FaultCount, err)
	}
}

// A sale written down after the export must outlive the export's next intake.
func TestIntakeDoesNotUndoALaterSale(t *testing.T) {
	db := open(t)
	take(t, db, small())
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "C3", day(t, "2026-11-20")); err != nil {
		t.Fatal(err)
	}
	rep := take(t, db, small())
	if owner, err := db.OwnerOf(t.Context(), "B1"); err != nil || owner.ID != "C3" {
		t.Errorf("the owner is %q, %v; want C3", owner.ID, err)
	}
	if rep.NoteCount != 1 || !strings.Contains(rep.Notes[0].What, `has since gone to customer "C3"`) {
		t.Errorf("notes %v; want one about the later sale", rep.Notes)
	}
}

// Whatever the files say, intake answers with a report and never half a shop.
func FuzzIntake(f *testing.F) {
	for name, text := range small() {
		f.Add(name, text)
	}
	dirs, _ := filepath.Glob("testdata/intake/*/*.csv")
	if len(dirs) == 0 {
		f.Fatal("no seeds")
	}
	for _, path := range dirs {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(filepath.Base(path), string(data))
	}
	db := open(f)
	take(f, db, small())
	f.Fuzz(func(t *testing.T, name, text string) {
		file := func() []imports.File { return []imports.File{{Name: name, R: strings.NewReader(text)}} }
		rep, err := imports.Intake(ctx, db, noon, file(), known(), imports.IntakeOptions{DryRun: true})
		if err != nil && !errors.Is(err, imports.ErrIntake) {
			t.Fatalf("%q: %v", text, err)
		}
		if rep.Refused() == (err == nil) {
			t.Fatalf("%d faults and error %v", rep.FaultCount, err)
		}
	})
}
