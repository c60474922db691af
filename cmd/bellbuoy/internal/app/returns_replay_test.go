package app_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

var update = flag.Bool("update", false, "write golden files anew")

// TestFiveSeasonsForeseen replays the demo shop: what would have been expected
// on 1 August of each of five years against what came of the boats in care
// then. The error is stated in a golden file; a change to the model shows there.
func TestFiveSeasonsForeseen(t *testing.T) {
	if testing.Short() {
		t.Skip("replays five seasons")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 400, 8, 1)
	c, err := ledger(t, a, today).Calibration(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# Revenue foreseen on 1 August for twelve months, and what came: demo shop, 400 boats, 8 years, seed 1, as of %s.\n", today)
	fmt.Fprintf(&b, "%-10s  %12s  %6s  %12s  %12s  %6s\n", "from", "list x ch.", "factor", "foreseen", "came", "error")
	foreseen, worst := 0, 0.0
	for _, y := range c.Years {
		e, ok := y.Error()
		if !ok {
			fmt.Fprintf(&b, "%-10s  %12s  %6s  %12s  %12s\n", y.On, y.Expected, "", "", y.Came)
			continue
		}
		foreseen++
		worst = max(worst, math.Abs(e))
		fmt.Fprintf(&b, "%-10s  %12s  %6.3f  %12s  %12s  %+5.1f%%\n", y.On, y.Expected, y.Factor, y.Forecast, y.Came, 100*e)
	}
	fmt.Fprintf(&b, "root mean square error %.1f%%, worst %.1f%%\n", 100*c.Miss, 100*worst)
	golden(t, "testdata/returns/foreseen.txt", b.String())
	if foreseen != 5 {
		t.Errorf("%d years foreseen, want 5", foreseen)
	}
	if worst > 0.2 {
		t.Errorf("the worst year is off by %.0f %%, more than a fifth", 100*worst)
	}
}

// TestReplayChangesTheBooks: what a page has kept of the books is read again after past
// seasons were worked out again.
func TestReplayChangesTheBooks(t *testing.T) {
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 20, 3, 1)
	before, err := a.DB.BooksMark(t.Context())
	if err == nil {
		err = figures.Replay(t.Context(), a, today, nil)
	}
	if err != nil {
		t.Fatal(err)
	}
	if after, err := a.DB.BooksMark(t.Context()); err != nil || after == before {
		t.Errorf("the mark is %q as before, %v", after, err)
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
	if string(want) != got {
		t.Errorf("%s differs; -update writes it anew\ngot:\n%s\nwant:\n%s", path, got, want)
	}
}

// TestReplayKnowsNoFuture: what is worked out for a day does not change when
// later work is taken away.
func TestReplayKnowsNoFuture(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today, on := theDay(t, figuresDay), theDay(t, "2025-08-01")
	a := soldShop(t, today, 60, 5, 2)
	before, err := report.SeasonOutlook(t.Context(), a.DB, on, schedule.LayUp, 2025)
	if err != nil || len(before) == 0 {
		t.Fatalf("%d visits, %v", len(before), err)
	}
	now := today.At(12, 0, a.Config.Zone())
	removed := 0
	for _, v := range before {
		f, err := a.DB.Facts(t.Context(), v.BoatID)
		if err != nil {
			t.Fatal(err)
		}
		late := store.Mistake{BoatID: v.BoatID}
		for _, r := range f.Records {
			if r.Day >= on {
				removed++
				late.Records = append(late.Records, r)
			}
		}
		if err := a.Writer().TakeBackWork(t.Context(), now, "test", v.BoatID, late); err != nil {
			t.Fatal(err)
		}
	}
	if removed == 0 {
		t.Fatal("there was no later work to take away")
	}
	if err := figures.Replay(t.Context(), a, today, nil); err != nil {
		t.Fatal(err)
	}
	after, err := report.SeasonOutlook(t.Context(), a.DB, on, schedule.LayUp, 2025)
	if err != nil || len(after) != len(before) {
		t.Fatalf("%d visits, want %d, %v", len(after), len(before), err)
	}
	for i := range after {
		if after[i] != before[i] {
			t.Errorf("with what came later %+v, without %+v", before[i], after[i])
		}
	}
}
