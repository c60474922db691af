package imports_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/archive"
	"bellbuoy/store/imports"
)

// TestLanguage: a customer's language comes in by tag or by name, stays where a
// file has no such column, and goes out again.
func TestLanguage(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	const head, line = "customer_id,name,email,phone,address,city,region,postal_code,contact_by", ",Ada,,,,,,,none"
	take := func(customers string) (imports.Report, error) {
		t.Helper()
		return imports.Intake(t.Context(), db, time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), []imports.File{
			{Name: "customers.csv", R: strings.NewReader(customers)},
		}, imports.Known{}, imports.IntakeOptions{Actor: "test"})
	}
	if r, err := take(head + ",language\nC1" + line + ",fr\nC2" + line + ",Français\nC3" + line + ",\nC4" + line + ",ENGLISH\n"); err != nil {
		t.Fatal(err, r)
	}
	want := map[string]string{"C1": "fr", "C2": "fr", "C3": "", "C4": "en"}
	check := func(when string) {
		t.Helper()
		for id, want := range want {
			if c, err := db.Customer(t.Context(), id); err != nil || c.Language != want {
				t.Errorf("%s: %s has %q, want %q (%v)", when, id, c.Language, want, err)
			}
		}
	}
	check("first")
	if r, err := take(head + "\nC1" + line + "\nC2" + line + "\n"); err != nil {
		t.Fatal(err, r)
	}
	check("a file without the column")
	r, err := take(head + ",language\nC1" + line + ",frz\n")
	if err == nil || r.FaultCount != 1 || !strings.Contains(fmt.Sprint(r.Faults), `unknown word "frz"`) {
		t.Errorf("a word that is no language: %v, %v", err, r.Faults)
	}
	folder := t.TempDir()
	if err := archive.Export(t.Context(), db.Reader, folder); err != nil {
		t.Fatal(err)
	}
	out, err := os.ReadFile(filepath.Join(folder, "customers.csv"))
	if err != nil || !strings.Contains(string(out), "C1,Ada,,,,,,,none,fr\n") || !strings.Contains(string(out), "C3,Ada,,,,,,,none,\n") {
		t.Errorf("the export (%v):\n%s", err, out)
	}
	if r, err := take(head + ",language\nC1" + line + ",\n"); err != nil {
		t.Fatal(err, r)
	}
	want["C1"] = ""
	check("a file that says none")
}

// TestMappedLanguage: another program's words for languages become ours; a later
// table without the column takes none back.
func TestMappedLanguage(t *testing.T) {
	const words = "[sheet.words.\"customer.language\"]\n\"Franco\" = \"fr\"\n[sheet.defaults]"
	with := strings.Replace(strings.Replace(numbersMapping, `"Reg" =`, "\"Langue\" = \"customer.language\"\n\"Reg\" =", 1), "[sheet.defaults]", words, 1)
	db := open(t)
	row := func(name, language string) string {
		return name + "," + strings.ToLower(name) + "@example.org,Perch of " + name + ",Tarnmoor,20,," + language + "\n"
	}
	intakeMapped(t, db, with, "boats.csv", "Owner,Email,Boat,Make,Model,HIN,Reg,Langue\n"+row("Ada", ",Français")+row("Ben", ",English")+row("Cy", ",Franco")+row("Di", ","), imports.MappedOptions{})
	intakeMapped(t, db, numbersMapping, "boats.csv", "Owner,Email,Boat,Make,Model,HIN,Reg\n"+row("Ada", "")+row("Di", ""), imports.MappedOptions{})
	all, err := db.Customers(t.Context(), "", 10)
	if err != nil || len(all) != 4 {
		t.Fatal(err, all)
	}
	for _, c := range all {
		if want := map[string]string{"Ada": "fr", "Ben": "en", "Cy": "fr", "Di": ""}[c.Name]; c.Language != want {
			t.Errorf("%s has %q, want %q", c.Name, c.Language, want)
		}
	}
}
