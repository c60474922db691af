package imports_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/sheet"
)

// workMapping reads a table of work, in a file of any name.
const workMapping = `
blank = ["-"]
[[sheet]]
name = "list.csv"
[sheet.columns]
"Owner" = "customer.name"
"Boat" = "boat.name"
"Done" = "work.day"
"Job" = "work.service"
"Paid" = "work.amount"
"Remark" = "work.note"
[sheet.dates]
"Done" = "ymd"
[sheet.numbers]
"Paid" = "1,234.50"
[sheet.words."work.service"]
"pump" = "impeller"
"oil" = "engine-oil"
[sheet.defaults]
"boat.kind" = "runabout"
"boat.water" = "fresh"
"boat.place" = "Pine Cove"
"boat.berth" = "own-dock"
`

const workHead = "Owner,Boat,Done,Job,Paid,Remark\n"

// takeGood takes the good rows and returns the file of the others.
func takeGood(t *testing.T, db *store.DB, name, table string) (back string, rep imports.MappedReport) {
	t.Helper()
	var out bytes.Buffer
	rep = intakeMapped(t, db, workMapping, name, table, imports.MappedOptions{AcceptGood: true, Returned: func(r *imports.ReturnedRows) error {
		w, err := sheet.NewCSVWriter(&out, ",")
		if err != nil {
			return err
		}
		return errors.Join(r.Write(w), w.Close())
	}})
	return out.String(), rep
}

// paid are the amounts of all work on file, in rising order.
func paid(t *testing.T, db *store.DB) []string {
	t.Helper()
	var all []string
	for _, b := range allBoats(t, db) {
		f, err := db.Facts(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range f.Records {
			all = append(all, fmt.Sprintf("%8s", r.Amount))
		}
	}
	slices.Sort(all)
	for i := range all {
		all[i] = strings.TrimSpace(all[i])
	}
	return all
}

func wantPaid(t *testing.T, db *store.DB, when string, want ...string) {
	t.Helper()
	if got := paid(t, db); !slices.Equal(got, want) {
		t.Errorf("%s: amounts %q, want %q", when, got, want)
	}
}

// Two jobs of one boat, day and service, of which one comes back: corrected, it
// joins the good one and replaces nothing, whatever it is like then.
func TestReturnedRowReplacesNoOther(t *testing.T) {
	for _, tt := range []struct{ name, right, want string }{
		{"another amount", "40.00", "40.00 100.00"},
		{"the same amount", "100.00", "100.00 100.00"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			db := open(t)
			table := workHead + "Ada Reed,Perch,2026-05-04,pump,100.00,\nAda Reed,Perch,2026-05-04,pump,forty,\n"
			back, rep := takeGood(t, db, "list.csv", table)
			if rep.Taken != 1 || rep.Returned != 1 {
				t.Fatalf("%d taken, %d returned, want one of each", rep.Taken, rep.Returned)
			}
			corrected := strings.Replace(back, "forty", tt.right, 1)
			if corrected == back {
				t.Fatalf("the returned row is not in\n%s", back)
			}
			for _, when := range []string{"corrected", "corrected and again"} {
				if _, rep = takeGood(t, db, "back.csv", corrected); rep.Returned != 0 {
					t.Fatalf("%s: %v", when, rep.Listed)
				}
				wantPaid(t, db, when, strings.Fields(tt.want)...)
			}
			// Corrected once more, the row replaces itself.
			takeGood(t, db, "back.csv", strings.Replace(back, "forty", "45.00", 1))
			wantPaid(t, db, "corrected once more", "45.00", "100.00")
			// The first file still names its good row and still has the bad one.
			if _, rep = takeGood(t, db, "list.csv", table); rep.Returned != 1 {
				t.Errorf("%d rows of the first file come back, want 1", rep.Returned)
			}
			wantPaid(t, db, "the first file again", "45.00", "100.00")
		})
	}
}

// A row that comes back twice keeps its id; one that is copied in the file of
// returned rows is a row of its own.
func TestReturnedRowKeepsItsID(t *testing.T) {
	db := open(t)
	back, _ := takeGood(t, db, "list.csv", workHead+"Ada Reed,Perch,2026-05-04,pump,100.00,\nAda Reed,Perch,2026-05-04,pump,forty,x\n")
	still, rep := takeGood(t, db, "back.csv", back)
	if rep.Returned != 1 || still != back {
		t.Errorf("returned again (%d) as\n%s\nwas\n%s", rep.Returned, still, back)
	}
	right := strings.Replace(still, "forty", "40.00", 1)
	_, row, _ := strings.Cut(right, "\n")
	takeGood(t, db, "back.csv", right+strings.Replace(row, "40.00", "7.00", 1))
	wantPaid(t, db, "split in two", "7.00", "40.00", "100.00")
}

// Many rows, some of them alike, some returned: every one of them is on file once
// the corrected file is in, and their sum is.
func TestNoRowVanishesAtSize(t *testing.T) {
	db := open(t)
	var table strings.Builder
	table.WriteString(workHead)
	const rows = 400
	for i := range rows {
		amount := fmt.Sprintf("%d.00", 10+i%7)
		if i%4 == 1 {
			amount = "unpaid? " + amount
		}
		fmt.Fprintf(&table, "Owner %d,Boat %d,2026-05-%02d,%s,%s,\n", i%20, i%20, 1+i%3, []string{"pump", "oil"}[i%2], amount)
	}
	back, rep := takeGood(t, db, "list.csv", table.String())
	if rep.Returned != rows/4 {
		t.Fatalf("%d rows returned, want %d", rep.Returned, rows/4)
	}
	if _, rep = takeGood(t, db, "back.csv", strings.ReplaceAll(back, "unpaid? ", "")); rep.Returned != 0 {
		t.Fatalf("%v", rep.Listed)
	}
	want := map[string]int{}
	for i := range rows {
		want[fmt.Sprintf("%d.00", 10+i%7)]++
	}
	got := map[string]int{}
	for _, amount := range paid(t, db) {
		got[amount]++
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("amounts %v, want %v", got, want)
	}
}

// The same file with a cell corrected corrects the row, and a file that holds
// little of what it brought before replaces nothing.
func TestCorrectedFileCorrects(t *testing.T) {
	const first = "Ada Reed,Perch,2026-05-04,pump,100.00,\n"
	const rest = "Ada Reed,Perch,2026-05-05,oil,50.00,\nAda Reed,Perch,2026-06-05,oil,60.00,\n"
	db := open(t)
	takeGood(t, db, "list.csv", workHead+first+rest)
	takeGood(t, db, "list.csv", workHead+strings.Replace(first, "100.00", "110.00", 1)+rest)
	wantPaid(t, db, "corrected", "50.00", "60.00", "110.00")
	_, rep := takeGood(t, db, "list.csv", workHead+strings.Replace(first, "100.00", "40.00", 1))
	if len(rep.Notes) != 1 || rep.Notes[0].Line != 2 || !strings.Contains(rep.Notes[0].Reason, "other work on boat") {
		t.Errorf("notes %v, want one about the other work", rep.Notes)
	}
	wantPaid(t, db, "another file of that name", "40.00", "50.00", "60.00", "110.00")
	takeGood(t, db, "december.csv", workHead+first+rest)
	wantPaid(t, db, "the same work from another file", "40.00", "50.00", "60.00", "100.00", "110.00")
}

// The shop's history.csv: a file with one line of a day's two replaces neither,
// one that names a record corrects it.
func TestHistoryReplacesOnlyWhatItNames(t *testing.T) {
	const head = "boat_id,component_id,day,service,hours,amount,by,note\n"
	db := open(t)
	m := small()
	m["history.csv"] = head + "B1,,2026-05-04,hull-wash,,100.00,shop,\nB1,,2026-05-04,hull-wash,,40.00,shop,\n"
	take(t, db, m)
	take(t, db, map[string]string{"history.csv": head + "B1,,2026-05-04,hull-wash,,40.00,shop,\n"})
	wantPaid(t, db, "one of the two again", "40.00", "100.00")
	rep := take(t, db, map[string]string{"history.csv": head + "B1,,2026-05-04,hull-wash,,45.00,shop,\n"})
	wantPaid(t, db, "a third", "40.00", "45.00", "100.00")
	if rep.NoteCount != 1 || !strings.Contains(rep.Notes[0].What, "record_id") {
		t.Errorf("notes %v, want one that says how to correct a record", rep.Notes)
	}
	f, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(f.Records, func(r schedule.Record) bool { return r.Amount == 4500 })
	line := "record_id," + head + f.Records[i].ID + ",B1,,2026-05-06,hull-wash,,46.00,shop,\n"
	take(t, db, map[string]string{"history.csv": line})
	wantPaid(t, db, "named, on another day", "40.00", "46.00", "100.00")
	take(t, db, map[string]string{"history.csv": line})
	wantPaid(t, db, "named again", "40.00", "46.00", "100.00")
}

// What the desk wrote down itself is nothing that a file named.
func TestHistoryReplacesNoRecordOfTheDesk(t *testing.T) {
	db := open(t)
	m := small()
	m["history.csv"] = "boat_id,component_id,day,service,hours,amount,by,note\n"
	take(t, db, m)
	r := schedule.Record{BoatID: "B1", Day: day(t, "2026-05-04"), Service: "hull-wash", Amount: 10000, By: schedule.ByShop}
	if _, err := db.AddRecord(t.Context(), noon, "desk", r); err != nil {
		t.Fatal(err)
	}
	take(t, db, map[string]string{"history.csv": m["history.csv"] + "B1,,2026-05-04,hull-wash,,40.00,shop,\n"})
	wantPaid(t, db, "after the file", "40.00", "100.00")
	take(t, db, map[string]string{"history.csv": m["history.csv"] + "B1,,2026-05-04,hull-wash,,100.00,shop,\n"})
	wantPaid(t, db, "what the desk has too", "40.00", "100.00")
}

// A row that is refused only because of what it means has an id when it comes back,
// and has left nothing behind: the customer whom it alone names is not taken.
func TestRefusedRowHasAnIDAndLeavesNothing(t *testing.T) {
	db := open(t)
	back, rep := takeGood(t, db, "list.csv", workHead+"Ada Reed,Perch,2026-05-04,pump,100.00,\nBea Moss,,2026-05-05,pump,40.00,\n")
	if rep.Returned != 1 || !strings.Contains(rep.Listed[0].Reason, "no boat") {
		t.Fatalf("returned %v, want the row of no boat", rep.Listed)
	}
	last := strings.Split(strings.TrimSpace(back), "\n")
	cells := strings.Split(last[len(last)-1], ",")
	if len(cells) != 8 || len(cells[6]) != 16 {
		t.Errorf("the returned row is %q, want six cells, an id of 16 digits and a reason", cells)
	}
	if n := rep.Files[0].New; n != 1 {
		t.Errorf("%d customers taken, want Ada Reed only", n)
	}
}
