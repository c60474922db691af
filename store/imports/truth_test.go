package imports_test

import (
	"fmt"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/imports"
)

// Of five shops' books with known truth every customer and every boat comes out
// once, each with its own work, and the money is the tables' sum less what comes
// back. The same again changes nothing.
func TestSourcesComeOutOnce(t *testing.T) {
	for i, s := range sources() {
		if testing.Short() && i > 1 {
			break
		}
		t.Run(s.name, func(t *testing.T) {
			g := newTruth(s)
			db := open(t)
			opts := imports.MappedOptions{Actor: "test", AcceptGood: true, MaxFaults: 1 << 20}
			rep, err := imports.IntakeMapped(t.Context(), db, noon, g.opened(t), g.mapping(t), mapped(), opts)
			if err != nil {
				t.Fatal(err)
			}
			checkTruth(t, db, g, &rep)
			before := everything(t, db)
			again, err := imports.IntakeMapped(t.Context(), db, noon, g.opened(t), g.mapping(t), mapped(), opts)
			if err != nil || again.Returned != rep.Returned {
				t.Fatalf("the same again: %d returned, first %d, %v", again.Returned, rep.Returned, err)
			}
			if everything(t, db) != before {
				t.Error("the same again changed something")
			}
		})
	}
}

func checkTruth(t *testing.T, db *store.DB, g *truth, rep *imports.MappedReport) {
	t.Helper()
	var want, got schedule.Cents
	for _, cents := range g.paid {
		want += cents
	}
	bad := 0
	for _, row := range rep.Listed {
		want -= g.paid[fmt.Sprint(row.Table, ":", row.Line)]
		if !strings.Contains(row.Reason, "submarine") && !strings.Contains(row.Reason, "ask Uli") {
			if bad++; bad < 10 {
				t.Errorf("came back: %v", row)
			}
		}
	}
	customers, err := db.Customers(t.Context(), "", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	boats := allBoats(t, db)
	whose := map[string]string{} // a true customer or boat to the store's
	mixed := 0
	for _, b := range boats {
		f, err := db.Facts(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		owner, err := db.OwnerOf(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range f.Records {
			got += r.Amount
			c, k, _ := strings.Cut(r.Note, " ")
			for truth, id := range map[string]string{c: owner.ID, k: b.ID, "is " + owner.ID: c, "is " + b.ID: k} {
				if was := whose[truth]; was != "" && was != id {
					mixed++
				}
				whose[truth] = id
			}
		}
	}
	t.Logf("%d rows: %d customers of %d, %d boats of %d, %d mixed, %d returned, %s of %s", rep.Rows, len(customers), len(g.people), len(boats), len(g.fleet), mixed, rep.Returned, got, want)
	if len(customers) != len(g.people) || len(boats) != len(g.fleet) || mixed > 0 {
		t.Errorf("%d customers, want %d; %d boats, want %d; %d times another's work", len(customers), len(g.people), len(boats), len(g.fleet), mixed)
	}
	var told schedule.Cents
	for _, y := range rep.Money {
		told += y.Taken
	}
	if told != want {
		t.Errorf("the report says %s were paid, want %s", told, want)
	}
	if got != want {
		t.Errorf("paid %s in the shop, want %s", got, want)
	}
}
