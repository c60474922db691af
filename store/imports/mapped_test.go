package imports_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
	"bellbuoy/store/storetest"
)

func book(t testing.TB, name string, data []byte) *sheet.Book {
	t.Helper()
	b, err := sheet.Open(name, bytes.NewReader(data), int64(len(data)), sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// mapped are the words that the tests' shop vouches for.
func mapped() imports.Known {
	k := known()
	k.Services = append(k.Services, "cleaning", "shrink-wrap")
	k.Metered = []string{"impeller", "engine-oil"}
	return k
}

// propose drafts a mapping and answers its questions; answers are lines of the
// draft and what they become.
func propose(t testing.TB, b *sheet.Book, answers ...string) *mapping.Mapping {
	t.Helper()
	o := mapping.ProposeOptions{Today: day(t, "2026-11-25"), Places: []string{"Pine Cove"}, Region: "US"}
	for _, s := range mapped().Services {
		o.Services = append(o.Services, mapping.Service{Code: s, Title: s})
	}
	text, err := mapping.Propose([]*sheet.Book{b}, o)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(answers); i += 2 {
		if !strings.Contains(text, answers[i]) {
			t.Fatalf("the draft has no %q:\n%s", answers[i], text)
		}
		text = strings.ReplaceAll(text, answers[i], answers[i+1])
	}
	m, err := mapping.Parse([]byte(text))
	if err != nil {
		t.Fatalf("%v in the draft:\n%s", err, text)
	}
	return m
}

// A workbook of 3,000 boats and 25,000 pieces of work with all its dirt is in
// within a minute, and each row is either taken or returned: exactly those that
// must be.
func TestMessyWorkbook(t *testing.T) {
	boats, work := 3000, 25000
	if testing.Short() || storetest.Slowdown > 1 {
		boats, work = 150, 1000
	}
	shop := newMessyShop(t, boats, work)
	b := book(t, "shop.xlsx", shop.bytes())
	m := propose(t, b, messyAnswers...)
	if asked := m.Questions(); len(asked) > 0 {
		t.Fatalf("questions left: %q", asked)
	}
	db := open(t)
	var back bytes.Buffer
	start := time.Now()
	rep, err := imports.IntakeMapped(t.Context(), db, noon, []*sheet.Book{b}, m, mapped(), imports.MappedOptions{
		Actor: "test", AcceptGood: true, MaxFaults: 1 << 20,
		Returned: func(r *imports.ReturnedRows) error {
			w := sheet.NewXLSXWriter(&back)
			return errors.Join(r.Write(w), w.Close())
		},
	})
	took := time.Since(start)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d rows in %v: %d taken, %d returned", rep.Rows, took.Round(time.Millisecond), rep.Taken, rep.Returned)
	if took > time.Minute && storetest.Slowdown == 1 {
		t.Errorf("it took %v, want less than a minute", took)
	}
	for _, table := range rep.Tables {
		if table.Rows != shop.rows[table.Table] {
			t.Errorf("%s: %d rows read, %d written", table.Table, table.Rows, shop.rows[table.Table])
		}
	}
	if rep.Rows != rep.Taken+rep.Returned || len(rep.Listed) != rep.Returned {
		t.Errorf("%d rows in, %d taken, %d returned, %d listed", rep.Rows, rep.Taken, rep.Returned, len(rep.Listed))
	}
	checkReturned(t, rep.Listed, shop.bad)
	checkBack(t, back.Bytes(), rep.Returned)
	checkTaken(t, db, shop)
	again := everything(t, db)
	rep, err = imports.IntakeMapped(t.Context(), db, noon, []*sheet.Book{b}, m, mapped(), imports.MappedOptions{Actor: "test", AcceptGood: true})
	if err != nil || rep.Returned != len(shop.bad) {
		t.Fatalf("the same again: %d returned, %v", rep.Returned, err)
	}
	for _, f := range rep.Files {
		if f.New+f.Changed > 0 {
			t.Errorf("the same again: %s has %d new and %d changed", f.Name, f.New, f.Changed)
		}
	}
	if everything(t, db) != again {
		t.Error("the same again changed something")
	}
}

// messyAnswers answers what the draft for the messy workbook asks.
var messyAnswers = []string{
	`"boat.water" = "?"`, `"boat.water" = "fresh"`,
	`"boat.berth" = "?"`, `"boat.berth" = "own-dock"`,
	`"submarine" = "?"`, `"submarine" = "-"`,
	`"ask Uli" = "?"`, `"ask Uli" = "-"`,
}

func checkReturned(t *testing.T, listed []imports.RowReason, want map[string]bool) {
	t.Helper()
	got := map[string]string{}
	for _, r := range listed {
		if r.Reason == "" {
			t.Errorf("%s:%d came back without a reason", r.Table, r.Line)
		}
		got[fmt.Sprint(r.Table, ":", r.Line)] = r.Reason
	}
	var wrong []string
	for k, why := range got {
		if !want[k] {
			wrong = append(wrong, k+" came back: "+why)
		}
	}
	for k := range want {
		if _, ok := got[k]; !ok {
			wrong = append(wrong, k+" was taken")
		}
	}
	slices.Sort(wrong)
	for _, w := range wrong[:min(20, len(wrong))] {
		t.Error(w)
	}
	if len(wrong) > 20 {
		t.Errorf("and %d more", len(wrong)-20)
	}
}

// checkBack reads the file of returned rows: each with a reason at the end.
func checkBack(t *testing.T, data []byte, want int) {
	t.Helper()
	b := book(t, "back.xlsx", data)
	rows := 0
	for _, s := range b.Sheets() {
		header := 0
		err := b.Rows(s, func(r sheet.Row) error {
			last := r.Cells[len(r.Cells)-1].Text
			switch {
			case header == 0 && last == mapping.Reason:
				header = len(r.Cells)
			case header == 0 || len(r.Cells) != header || last == "":
				t.Errorf("%s:%d: %d cells, the last %q", s, r.Line, len(r.Cells), last)
			default:
				rows++
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if rows != want {
		t.Errorf("%d rows written back, want %d", rows, want)
	}
}

// checkTaken counts what the store has against what the generator gave it.
func checkTaken(t *testing.T, db *store.DB, shop *messyShop) {
	t.Helper()
	boats, records := 0, 0
	all, err := db.Boats(t.Context(), "", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range all {
		f, err := db.Facts(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		boats++
		records += len(f.Records)
	}
	customers, err := db.Customers(t.Context(), "", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	want := fmt.Sprint(shop.owners, " boats, ", shop.owners, " customers, ", shop.records, " records")
	got := fmt.Sprint(boats, " boats, ", len(customers), " customers, ", records, " records")
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("in the store (-want +got): %s", diff)
	}
}
