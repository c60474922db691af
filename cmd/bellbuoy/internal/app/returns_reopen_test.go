package app_test

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// TestBooksReadAgainInPart: after any change, a ledger that read only what has changed
// gives every figure as one that read everything, and the ledger before it stays as it was.
func TestBooksReadAgainInPart(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 40, 4, 1)
	db, ctx := storetest.Writer(t, a.DB), t.Context()
	ids, err := db.BoatIDs(ctx)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 3))
	anyBoat := func() string { return ids[rng.IntN(len(ids))] }
	record := func(day civil.Day, by string, amount schedule.Cents) schedule.Record {
		r, err := db.AddRecord(ctx, storetest.Noon, "Inge", schedule.Record{BoatID: anyBoat(), Day: day, Service: "hull-wash", By: by, Amount: amount})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	changes := []struct {
		what string
		all  bool // more than the work of single boats may have changed
		do   func()
	}{
		{"paid work today", false, func() { record(today, schedule.ByShop, 4200) }},
		{"paid work of two boats, last year and on a day before the oldest record", false, func() {
			record(today.AddMonths(-12), schedule.ByShop, 12345)
			record(today.AddMonths(-100), schedule.ByShop, 900)
		}},
		{"work elsewhere, free work and a credit", false, func() {
			record(today-3, schedule.ByElsewhere, 4200)
			record(today-4, schedule.ByShop, 0)
			record(today-5, schedule.ByShop, -700)
		}},
		{"work taken back", false, func() {
			f, err := db.Facts(ctx, anyBoat())
			if err == nil {
				err = db.TakeBackWork(ctx, storetest.Noon, "Inge", fmt.Sprint("form ", rng.Uint64()), store.Mistake{BoatID: f.Boat.ID, Records: f.Records[len(f.Records)/2:]})
			}
			if err != nil {
				t.Fatal(err)
			}
		}},
		{"a boat of another kind", true, func() {
			f, err := db.Facts(ctx, anyBoat())
			if err == nil {
				f.Boat.Kind = map[bool]string{true: "pontoon", false: "sail"}[f.Boat.Kind == "sail"]
				err = db.Tx(ctx, func(tx *sql.Tx) error { return store.SaveBoat(ctx, tx, storetest.Noon, "Inge", f.Boat) })
			}
			if err != nil {
				t.Fatal(err)
			}
		}},
	}
	before := ledger(t, a, today)
	said := everyFigure(t, before)
	for _, c := range slices.Concat(changes, changes) {
		mark, err := a.DB.BooksMark(ctx)
		if err != nil {
			t.Fatal(err)
		}
		c.do()
		if _, all, _, err := a.DB.WorkSince(ctx, mark); err != nil || all != c.all {
			t.Errorf("%s: all is %t, %v, want %t", c.what, all, err, c.all)
		}
		after, err := figures.Reopen(ctx, a, today, before)
		if err != nil {
			t.Fatal(err)
		}
		now, want := everyFigure(t, after), everyFigure(t, ledger(t, a, today))
		if now != want {
			t.Errorf("%s: read in part\n%s\nread whole\n%s", c.what, now, want)
		}
		if again := everyFigure(t, before); again != said {
			t.Errorf("%s: the ledger before it has changed", c.what)
		}
		before, said = after, now
	}
}

// everyFigure is all that a ledger says of its books, in one text.
func everyFigure(t *testing.T, l *figures.Ledger) string {
	t.Helper()
	money, err := l.Revenue(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lists := ""
	for _, name := range []string{figures.ListSold, figures.ListSales, figures.ListDone, figures.ListAway} {
		rows, err := l.List(t.Context(), figures.Query{List: name})
		if err != nil {
			t.Fatal(err)
		}
		lists += fmt.Sprint(rows.Rows)
	}
	text, err := json.MarshalIndent([]any{l.Since, l.First, money, l.Rates(), l.Times("first"), l.Times("lapse"), lists}, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
