package app_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// recount is what testdata/returns/recount.py prints; money in cents.
type recount struct {
	Since     string                    `json:"since"`
	Totals    map[string]schedule.Cents `json:"totals"`
	Services  map[string]schedule.Cents `json:"services"`
	Sales     map[string]schedule.Cents `json:"sales"`
	Matrix    map[string][2]int         `json:"matrix"`
	Spells    int                       `json:"spells"`
	Events    int                       `json:"events"`
	Left      float64                   `json:"left"`
	Median    int                       `json:"median"`
	Away      int                       `json:"away"`
	AwayWorth schedule.Cents            `json:"away_worth"`
	PartsCost schedule.Cents            `json:"parts_cost"`
	PartKinds int                       `json:"part_kinds"`
	Nudges    map[string][3]int         `json:"nudges"` // customers, of them came, cents
}

// python finds a program that a check from outside needs; on the build machine
// it must be there.
func python(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("python3")
	testkit.Needs(t, err == nil, "python3")
	return path
}

// TestFiguresRecounted has the demo shop's figures counted again, to the cent,
// by a program of another language that shares nothing with this one.
func TestFiguresRecounted(t *testing.T) {
	py := python(t)
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 400, 6, 1)
	drawFor(t, a, today)
	files, err := filepath.Glob("../../../../schedule/rules/catalogue/*.toml")
	if err != nil {
		t.Fatal(err)
	}
	files = append([]string{"testdata/returns/recount.py", a.DB.Path(), a.Config.Path("bellbuoy.toml"), figuresDay}, append(files, a.Config.Path(a.Config.Files.Rules))...)
	out, err := exec.CommandContext(t.Context(), py, files...).Output()
	if err != nil {
		t.Fatalf("recount: %v", err)
	}
	var want recount
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	r, err := ledger(t, a, today).Report(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if r.Since.String() != want.Since {
		t.Errorf("records since %s, recounted %s", r.Since, want.Since)
	}
	checkMoney(t, r, &want)
	checkRates(t, r, &want)
	checkNudges(t, r.Nudges, want.Nudges)
	c := r.First.All.Curve
	m, _ := c.Median()
	last := c.Steps[len(c.Steps)-1].Survival
	if c.N != want.Spells || c.Events != want.Events || m != want.Median || math.Abs(last-want.Left) > 1e-9 {
		t.Errorf("first return: %d sales, %d came, median %d, %v left; recounted %d, %d, %d, %v", c.N, c.Events, m, last, want.Spells, want.Events, want.Median, want.Left)
	}
	if r.Away.Count != want.Away || r.Away.Cents != want.AwayWorth || want.Away == 0 {
		t.Errorf("lapsed: %d worth %s; recounted %d worth %s", r.Away.Count, r.Away.Cents, want.Away, want.AwayWorth)
	}
	if p := r.Work.Parts; p.Whole.Cents != want.PartsCost || p.Whole.Count != want.PartKinds || want.PartsCost == 0 || p.Unpriced.Count != 0 || p.Expected <= 0 || p.Expected > p.Whole.Cents {
		t.Errorf("parts ahead: %d kinds for %s, %s by chance, %d without a price; recounted %d for %s", p.Whole.Count, p.Whole.Cents, p.Expected, p.Unpriced.Count, want.PartKinds, want.PartsCost)
	}
}

// drawFor draws lots for the customers of a shop: for two springs that are over,
// and for one whose days are not, one in five held back.
func drawFor(t *testing.T, a *app.App, today civil.Day) {
	t.Helper()
	tenures, err := report.Tenures(t.Context(), a.DB)
	if err != nil {
		t.Fatal(err)
	}
	for i, on := range []civil.Day{civil.Of(2025, 4, 10), civil.Of(2026, 4, 10), today - 20} {
		var draws []schedule.Holdout
		for _, x := range tenures {
			if x.From < on && (x.To == 0 || x.To > on) {
				draws = append(draws, schedule.Holdout{
					CustomerID: x.Customer.ID, BoatID: x.Boat.ID, VisitID: fmt.Sprint(x.Boat.ID, ".extra.", i), On: on,
					Held: x.Customer.ID[len(x.Customer.ID)-1] < '2', Percent: 20,
				})
			}
		}
		if err := outbox.SaveHoldouts(t.Context(), a.Writer(), draws); err != nil {
			t.Fatal(err)
		}
	}
}

func checkNudges(t *testing.T, n *figures.Nudges, want map[string][3]int) {
	t.Helper()
	if len(n.Seasons) != 2 || n.Open.Count == 0 {
		t.Errorf("lots of %d seasons, %d customers still watched", len(n.Seasons), n.Open.Count)
	}
	for _, s := range n.Seasons {
		for side, x := range map[string]figures.HoldoutSide{"heard": s.Notified, "held": s.Held} {
			what := s.Season.String() + " " + side
			if got := [3]int{x.All.Count, x.Came.Count, int(x.All.Cents)}; got != want[what] || got[1] == 0 {
				t.Errorf("%s: %v, recounted %v", what, got, want[what])
			}
			delete(want, what)
		}
	}
	if len(want) > 0 {
		t.Errorf("lots that are not in the report: %v", want)
	}
}

func checkMoney(t *testing.T, r *figures.Report, want *recount) {
	t.Helper()
	same := func(what string, got schedule.Cents) {
		t.Helper()
		if got != want.Totals[what] {
			t.Errorf("%s: %s, recounted %s", what, got, want.Totals[what])
		}
	}
	same("year repeat", r.Revenue.Repeat.Cents)
	same("year other", r.Revenue.Other.Cents)
	same("year before repeat", r.Revenue.RepeatBefore.Cents)
	same("year before other", r.Revenue.OtherBefore.Cents)
	for _, s := range r.Revenue.Seasons {
		same("season "+s.Season.String()+" repeat", s.Repeat.Cents)
		same("season "+s.Season.String()+" other", s.Other.Cents)
		for _, m := range s.Months {
			same("month "+m.Month.String()+" repeat", m.Repeat.Cents)
			same("month "+m.Month.String()+" other", m.Other.Cents)
			if m.Before.List.To == 0 {
				same("month "+(m.Month-12).String()+" repeat", m.Before.Cents)
			}
		}
	}
	for _, s := range r.Revenue.Services {
		if s.Now.Cents != want.Services[s.Service] {
			t.Errorf("service %s: %s, recounted %s", s.Service, s.Now.Cents, want.Services[s.Service])
		}
		delete(want.Services, s.Service)
	}
	for _, s := range r.Revenue.Sales {
		if s.Now.Cents != want.Sales[fmt.Sprint(s.Year)] {
			t.Errorf("sold in %d: %s, recounted %s", s.Year, s.Now.Cents, want.Sales[fmt.Sprint(s.Year)])
		}
	}
	if len(want.Services) > 0 {
		t.Errorf("services that are not in the report: %v", want.Services)
	}
}

func checkRates(t *testing.T, r *figures.Report, want *recount) {
	t.Helper()
	for _, row := range r.Rates.Rows {
		if row.Year == 0 {
			continue
		}
		for i, c := range row.Cells {
			what := fmt.Sprintf("%d %s", row.Year, r.Rates.Seasons[i])
			if got := [2]int{c.Came.Count, c.Of.Count}; got != want.Matrix[what] {
				t.Errorf("sold in %s: %v, recounted %v", what, got, want.Matrix[what])
			}
			delete(want.Matrix, what)
		}
	}
	if len(want.Matrix) > 0 {
		t.Errorf("cells that are not in the report: %v", want.Matrix)
	}
}
