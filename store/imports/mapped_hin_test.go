package imports_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// numbersMapping reads a table of boats.
const numbersMapping = `
blank = ["-"]
[[sheet]]
name = "boats.csv"
[sheet.columns]
"Owner" = "customer.name"
"Email" = "customer.email"
"Boat" = "boat.name"
"Make" = "boat.make"
"Model" = "boat.model"
"HIN" = "boat.hin"
"Reg" = "boat.registration"
[sheet.defaults]
"boat.kind" = "runabout"
"boat.water" = "fresh"
"boat.place" = "Pine Cove"
"boat.berth" = "own-dock"
`

func intakeMapped(t *testing.T, db *store.DB, mappingText, name, table string, opts imports.MappedOptions) imports.MappedReport {
	t.Helper()
	m, err := mapping.Parse([]byte(mappingText))
	if err != nil {
		t.Fatal(err)
	}
	opts.Actor = "test"
	rep, err := imports.IntakeMapped(t.Context(), db, noon, []*sheet.Book{book(t, name, []byte(table))}, m, mapped(), opts)
	if err != nil {
		t.Fatalf("%v: %v", err, rep.Listed)
	}
	return rep
}

// What people write where no number is at hand merges no boats: other makes,
// names and owners stay boats of their own, and the text stays on each.
func TestPlaceholderIsNoNumber(t *testing.T) {
	for _, written := range []string{"TBD", "unknown", "?", "0", "n/a", "000000000000", "111111111111", "see papers"} {
		for _, column := range []string{"HIN", "Reg"} {
			if column == "Reg" && written == "111111111111" {
				continue // a registration may be of figures alone
			}
			t.Run(column+" "+strings.ReplaceAll(written, "/", "-"), func(t *testing.T) {
				db := open(t)
				number, registration := written, ""
				if column == "Reg" {
					number, registration = "", written
				}
				table := "Owner,Email,Boat,Make,Model,HIN,Reg\n"
				for _, row := range []string{"Ada Reed,ada@example.org,Perch,Tarnmoor,20", "Bo Lind,bo@example.org,Osprey,Hollin,17", "Cy Marsh,cy@example.org,,Hollin,17"} {
					table += fmt.Sprintf("%s,%s,%s\n", row, number, registration)
				}
				intakeMapped(t, db, numbersMapping, "boats.csv", table, imports.MappedOptions{})
				boats := allBoats(t, db)
				if len(boats) != 3 {
					t.Fatalf("%d boats, want three: %v", len(boats), boats)
				}
				for _, b := range boats {
					if b.HIN != number {
						t.Errorf("boat %q: %q was typed and %q is kept", b.Name, number, b.HIN)
					}
					if b.ID == written || strings.HasPrefix(b.ID, "R-") {
						t.Errorf("boat %q is called %q for what is no number", b.Name, b.ID)
					}
				}
				before := everything(t, db)
				intakeMapped(t, db, numbersMapping, "boats.csv", table, imports.MappedOptions{})
				if everything(t, db) != before {
					t.Error("the same table again changed something")
				}
				if twins, err := duplicates.Find(t.Context(), db.Reader); err != nil || len(twins) > 0 {
					t.Errorf("taken for one and the same: %v, %v", twins, err)
				}
				if b, err := db.BoatByHIN(t.Context(), written); err == nil {
					t.Errorf("%q finds boat %q", written, b.Name)
				}
			})
		}
	}
}

// Two boats of one owner and one make may bear numbers of before 1972, and "TBD"
// replaces no number that is known.
func TestOldNumbersTellApart(t *testing.T) {
	db := open(t)
	const head = "Owner,Email,Boat,Make,Model,HIN,Reg\n"
	intakeMapped(t, db, numbersMapping, "boats.csv", head+
		"Ada Reed,ada@example.org,,Hollin,17,NH-4711,\nAda Reed,ada@example.org,,Hollin,17,NH-4712,\nAda Reed,ada@example.org,Perch,Tarnmoor,20,ABC12345A919,\n", imports.MappedOptions{})
	intakeMapped(t, db, numbersMapping, "boats.csv", head+"Ada Reed,ada@example.org,Perch,Tarnmoor,20,TBD,\n", imports.MappedOptions{})
	var got []string
	for _, b := range allBoats(t, db) {
		got = append(got, b.HIN)
	}
	slices.Sort(got)
	if want := []string{"ABC12345A919", "NH-4711", "NH-4712"}; !slices.Equal(got, want) {
		t.Errorf("numbers %q, want %q", got, want)
	}
}

func allBoats(t *testing.T, db *store.DB) []schedule.Boat {
	t.Helper()
	all, err := db.Boats(t.Context(), "", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	return all
}
