package imports_test

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/imports"
)

// TestIntakeCountsDaysByTheShopsClock: at nine in the evening in New York it is
// tomorrow in London already, and work dated tomorrow is still to come.
func TestIntakeCountsDaysByTheShopsClock(t *testing.T) {
	evening := time.Date(2026, 11, 25, 21, 0, 0, 0, time.FixedZone("five hours behind", -5*3600))
	for _, c := range []struct {
		name, day string
		refused   bool
	}{
		{"today", "2026-11-25", false},
		{"tomorrow", "2026-11-26", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			file := func(name, text string) imports.File { return imports.File{Name: name, R: strings.NewReader(text)} }
			report, err := imports.Intake(t.Context(), db, evening, []imports.File{
				file("customers.csv", "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC1,Ada,,,,,,,none\n"),
				file("boats.csv", "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\nB1,C1,,Tern,,,,runabout,,fresh,Cove,own-dock,2024-05-01,\n"),
				file("history.csv", "boat_id,component_id,day,service,hours,amount,by,note\nB1,,"+c.day+",lay-up,,,shop,\n"),
			}, imports.Known{}, imports.IntakeOptions{Actor: "test"})
			if (err != nil) != c.refused || report.Refused() != c.refused {
				t.Errorf("refused: %v, %v %v; want %v", report.Refused(), err, report.Faults, c.refused)
			}
		})
	}
}
