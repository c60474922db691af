package imports_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/archive"
	"bellbuoy/store/imports"
)

// TestOrigin: a boat that its customer brought was never sold by us, and a file
// without the column leaves it so.
func TestOrigin(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	const head, line = "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until", ",,Tern,,,,runabout,,fresh,Cove,own-dock,"
	take := func(boats string) {
		t.Helper()
		r, err := imports.Intake(t.Context(), db, time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), []imports.File{
			{Name: "customers.csv", R: strings.NewReader("customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC1,Ada,,,,,,,none\nC2,Ben,,,,,,,none\n")},
			{Name: "boats.csv", R: strings.NewReader(boats)},
		}, imports.Known{}, imports.IntakeOptions{Actor: "test"})
		if err != nil {
			t.Fatal(err, r.Faults)
		}
	}
	sold := func(id string) civil.Day {
		t.Helper()
		b, err := db.Boat(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return b.SoldOn
	}
	take(head + ",origin\nB1,C1" + line + "2024-05-01,,service\nB2,C1" + line + "2024-05-01,,sold\nB3,C1" + line + "2020-05-01,,sold\nB3,C2" + line + "2024-05-01,,service\n")
	for id, want := range map[string]civil.Day{"B1": 0, "B2": civil.Of(2024, 5, 1), "B3": civil.Of(2020, 5, 1)} {
		if got := sold(id); got != want {
			t.Errorf("%s was sold on %s, want %s", id, got, want)
		}
	}
	owners, err := db.Ownerships(t.Context(), "B1")
	if err != nil || len(owners) != 1 || owners[0].From != civil.Of(2024, 5, 1) {
		t.Errorf("owners %v (%v)", owners, err)
	}
	take(head + "\nB1,C1" + line + "2024-05-01,\n")
	if got := sold("B1"); got != 0 {
		t.Errorf("a file that does not say made it a sale of %s", got)
	}
	folder := t.TempDir()
	if err := archive.Export(t.Context(), db.Reader, folder); err != nil {
		t.Fatal(err)
	}
	boats, err := os.ReadFile(filepath.Join(folder, "boats.csv"))
	for _, want := range []string{"own-dock,2024-05-01,,service,no\n", "B2,C1,,Tern,,,,runabout,,fresh,Cove,own-dock,2024-05-01,,,no\n", "B3,C1,,Tern,,,,runabout,,fresh,Cove,own-dock,2020-05-01,,,no\n"} {
		if err != nil || !strings.Contains(strings.ReplaceAll(string(boats), "\r\n", "\n"), want) {
			t.Errorf("the export lacks %q (%v):\n%s", want, err, boats)
		}
	}
}
