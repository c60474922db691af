package imports_test

import (
	"errors"
	"strings"
	"testing"

	"bellbuoy/store/imports"
)

// A column that a file does not have changes nothing that is on file, where an
// empty cell takes it off.
func TestMissingColumnKeepsWhatIsKnown(t *testing.T) {
	db := open(t)
	take(t, db, small())
	before := everything(t, db)
	rep := take(t, db, map[string]string{
		"customers.csv":  "name,customer_id\nZoë Łukasz,C1\n",
		"boats.csv":      "boat_id,customer_id,kind,water,place,berth,sold_on\nB1,C1,runabout,fresh,Pine Cove,own-dock,2019-05-02\n",
		"components.csv": "component_id,boat_id,kind\nE2,B2,engine\nT1,B1,trailer\nX1,B1,extinguisher\n",
		"readings.csv":   "component_id,day,hours\nE1,2025-10-04,236\nE3,2025-06-01,0\n",
	})
	if after := everything(t, db); after != before {
		t.Errorf("before:\n%s\nafter:\n%s", before, after)
	}
	for _, f := range rep.Files {
		if f.New+f.Changed > 0 {
			t.Errorf("%+v", f)
		}
	}
	take(t, db, map[string]string{"components.csv": "component_id,boat_id,kind,brakes,expires\nT1,B1,trailer,,\nX1,B1,extinguisher,,\n"})
	f, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range f.Components {
		if p.Attr.Extra != "" || p.Expires != 0 || p.ID == "X1" && p.Made == 0 {
			t.Errorf("empty cells left %+v", p)
		}
	}
}

// A record named by its id keeps its money and note likewise.
func TestMissingColumnKeepsARecord(t *testing.T) {
	db := open(t)
	m := small()
	m["history.csv"] = "boat_id,component_id,day,service,hours,amount,by,note,record_id\nB1,E1,2024-04-12,impeller,188,245.50,shop,a note,R1\n"
	take(t, db, m)
	rep := take(t, db, map[string]string{"history.csv": "boat_id,component_id,day,service,by,record_id\nB1,E1,2024-04-13,impeller,shop,R1\n"})
	f, err := db.Facts(t.Context(), "B1")
	if err != nil || len(f.Records) != 1 {
		t.Fatal(f.Records, err)
	}
	r := f.Records[0]
	if r.Day != day(t, "2024-04-13") || r.Amount != 24550 || !r.HasHours || r.Note != "a note" || rep.Files[0].Changed != 1 {
		t.Errorf("%+v, %+v", r, rep.Files)
	}
}

// A misspelled column does not become an attribute of the shop's own while the column
// itself is missing.
func TestMisspelledColumnIsNoAttribute(t *testing.T) {
	db := open(t)
	take(t, db, small())
	rep, err := imports.Intake(t.Context(), db, noon, files(map[string]string{"components.csv": "component_id,boat_id,kind,colling,brakes\nE1,B1,engine,air,disc\n"}), known(), imports.IntakeOptions{})
	if !errors.Is(err, imports.ErrIntake) || len(rep.Faults) != 1 || !strings.Contains(rep.Faults[0].What, `did you mean "cooling"?`) {
		t.Errorf("%v, %v", rep.Faults, err)
	}
}
