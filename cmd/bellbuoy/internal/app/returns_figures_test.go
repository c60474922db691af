package app_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

const figuresDay = "2026-10-21"

// eachFigure calls fn for every figure within a value, however deep.
func eachFigure(v reflect.Value, path string, fn func(path string, f figures.Figure)) {
	if f, ok := v.Interface().(figures.Figure); ok {
		fn(path, f)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			eachFigure(v.Elem(), path, fn)
		}
	case reflect.Slice:
		for i := range v.Len() {
			eachFigure(v.Index(i), fmt.Sprintf("%s[%d]", path, i), fn)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				eachFigure(v.Field(i), path+"."+f.Name, fn)
			}
		}
	}
}

// TestEveryFigureIsItsList walks every figure of the report and counts the list
// behind it: as many rows, the same total.
func TestEveryFigureIsItsList(t *testing.T) {
	if testing.Short() {
		t.Skip("asks for every list of every figure")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 150, 6, 3)
	tellSome(t, a, today)
	drawFor(t, a, today)
	l := ledger(t, a, today)
	report, err := l.Report(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	seen, nonzero := 0, make(map[string]int)
	eachFigure(reflect.ValueOf(report), "", func(path string, f figures.Figure) {
		seen++
		list, err := l.List(t.Context(), f.List)
		if err != nil {
			t.Fatalf("%s: %s: %v", path, f.List, err)
		}
		if f.Count != len(list.Rows) || list.HasTotal && f.Cents != list.Total && f.Cents != 0 || f.Cents != 0 && !list.HasTotal || f.Minutes != list.Minutes {
			t.Errorf("%s: %d, %s, %d minutes; the list %s has %d rows, %s, %d minutes", path, f.Count, f.Cents, f.Minutes, f.List, len(list.Rows), list.Total, list.Minutes)
		}
		if f.Count > 0 {
			nonzero[f.List.List]++
		}
	})
	if seen < 200 {
		t.Errorf("only %d figures found", seen)
	}
	for _, list := range []string{figures.ListWork, figures.ListSales, figures.ListSpells, figures.ListSeason, figures.ListExpected, figures.ListAway, figures.ListHours, figures.ListVisits, figures.ListWarranty, figures.ListParts, figures.ListNudges, figures.ListDone} {
		if nonzero[list] == 0 {
			t.Errorf("no figure of the list %q is above nothing: the test shows nothing of it", list)
		}
	}
}

// TestMonthsSumToTheSeason: and the seasons are the sum of all work of their
// days.
func TestMonthsSumToTheSeason(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, figuresDay)
	l := ledger(t, soldShop(t, today, 100, 5, 4), today)
	rev, err := l.Revenue(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(rev.Seasons) != 5 {
		t.Fatalf("%d seasons, want 5", len(rev.Seasons))
	}
	for _, s := range rev.Seasons {
		var repeat, other schedule.Cents
		for _, m := range s.Months {
			repeat, other = repeat+m.Repeat.Cents, other+m.Other.Cents
		}
		if repeat != s.Repeat.Cents || other != s.Other.Cents || repeat == 0 {
			t.Errorf("%s: months %s and %s, season %s and %s", s.Season, repeat, other, s.Repeat.Cents, s.Other.Cents)
		}
		all, err := l.List(t.Context(), figures.Query{List: figures.ListWork, Season: s.Season})
		if err != nil || all.Total != s.Repeat.Cents+s.Other.Cents {
			t.Errorf("%s: all work %s, want %s, %v", s.Season, all.Total, s.Repeat.Cents+s.Other.Cents, err)
		}
	}
	var services, sales schedule.Cents
	for _, s := range rev.Services {
		services += s.Now.Cents
	}
	for _, s := range rev.Sales {
		sales += s.Now.Cents
	}
	if services != rev.Repeat.Cents || sales != rev.Repeat.Cents {
		t.Errorf("this year %s; by service %s, by year of sale %s", rev.Repeat.Cents, services, sales)
	}
}

// TestFunnelNeverRises on every season of the shop, with people told and
// answering in the newest.
func TestFunnelNeverRises(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 150, 5, 5)
	tellSome(t, a, today)
	l := ledger(t, a, today)
	done := 0
	for s := l.First; s.First() <= today; s = s.Next() {
		f, err := l.Funnel(t.Context(), s)
		if err != nil || !f.Known {
			t.Fatalf("%s: known %v, %v", s, f.Known, err)
		}
		for i, st := range f.Stages {
			if i > 0 && (st.Boats.Count > f.Stages[i-1].Boats.Count || st.Boats.Cents > f.Stages[i-1].Boats.Cents) {
				t.Errorf("%s: %v has %d boats, %v %d", s, st.Reach, st.Boats.Count, f.Stages[i-1].Reach, f.Stages[i-1].Boats.Count)
			}
		}
		sum := 0
		for _, x := range f.Fates {
			sum += x.Boats.Count
		}
		if due := f.Stages[returns.IsDue].Boats.Count; sum != due {
			t.Errorf("%s: the fates are of %d boats, %d were due", s, sum, due)
		}
		done += f.Stages[returns.Done].Boats.Count
	}
	if done == 0 {
		t.Error("no boat was ever done")
	}
}

// TestSeasonTellsWhatWasSaid plays a season's visits: told, answered, declined,
// booked.
func TestSeasonTellsWhatWasSaid(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 150, 5, 6)
	told := tellSome(t, a, today)
	f, err := ledger(t, a, today).Funnel(t.Context(), returns.Season{Year: 2026, Half: returns.Autumn})
	if err != nil {
		t.Fatal(err)
	}
	got := make(map[string]int)
	for _, x := range f.Fates {
		got[x.Name] = x.Boats.Count
	}
	if got["no-reply"] != told.silent || got["declined"] != told.declined || got["booked"] != told.booked || got["replied"] != told.answered {
		t.Errorf("fates %v, want %+v", got, told)
	}
	steps := make(map[string]int)
	for _, x := range f.Steps {
		steps[x.Name] = x.Boats.Count
	}
	if steps["second-reminder"] != told.declined+told.answered || steps["first-reminder"] != told.booked {
		t.Errorf("by reminder %v, want %d after the nudge and %d after the invitation", steps, told.declined+told.answered, told.booked)
	}
}

// TestListsAreSafeInASpreadsheet: a customer whose name is a formula, and a boat
// whose name is one.
func TestListsAreSafeInASpreadsheet(t *testing.T) {
	for _, tt := range []struct{ name, cell, want string }{
		{"a formula", "=HYPERLINK(\"http://x.example\")", "'=HYPERLINK(\"http://x.example\")"},
		{"a sum", "+1 555 0100", "'+1 555 0100"},
		{"a minus", "-2+3", "'-2+3"},
		{"an at", "@SUM(1)", "'@SUM(1)"},
		{"behind a tab", "\t=1", "'\t'=1"},
		// RFC 4180 lines end in CRLF; the writer leaves a lone return out.
		{"behind a return", "\r=1", "''=1"},
		{"behind a semicolon", "Reed;=1+2", "Reed;'=1+2"},
		{"behind a semicolon and a blank", "Reed; @SUM(1)", "Reed; '@SUM(1)"},
		{"behind a semicolon and a quote", "Reed;\"=1\"", "Reed;\"'=1\""},
		{"on a second line", "Reed\n-1", "Reed\n'-1"},
		{"a number behind a semicolon", "Reed; 555 0100", "Reed; 555 0100"},
		{"a dash between", "Pier 4; berth B-2", "Pier 4; berth B-2"},
		{"a plain name", "O'Brien, \"Sea = Salt\"", "O'Brien, \"Sea = Salt\""},
		{"nothing", "", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			table := &figures.Table{Columns: []figures.Column{{Name: "Boat"}, {Name: "Amount", Kind: figures.CellMoney}}, Rows: [][]string{{tt.cell, "-1.50"}}}
			var b bytes.Buffer
			if err := table.WriteCSV(&b); err != nil {
				t.Fatal(err)
			}
			got, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
			if err != nil || len(got) != 2 || got[1][0] != tt.want || got[1][1] != "-1.50" {
				t.Errorf("%q became %q, %v; want %q", tt.cell, got, err, tt.want)
			}
		})
	}
}

func TestQueryReadsWhatItWrites(t *testing.T) {
	q := figures.Query{
		List: figures.ListWork, From: theDay(t, "2026-01-01"), To: theDay(t, "2026-06-30"), Month: returns.MonthOf(theDay(t, "2026-05-01")),
		Season: returns.Season{Year: 2026, Half: returns.Spring}, Week: theDay(t, "2026-05-05").Week(), Service: "impeller", Sold: "yes",
		Year: 2024, Kind: "pontoon", Came: "no", Of: "lapse", Reach: "booked", Fate: "no-reply", Held: "no", Step: "none",
	}
	got, err := figures.ParseQuery(q.List, q.Values())
	if err != nil || got != q {
		t.Errorf("%+v, %v; want %+v", got, err, q)
	}
	for name, bad := range map[string]map[string][]string{
		"unknown filter": {"colour": {"red"}},
		"twice":          {"month": {"2026-05", "2026-06"}},
		"no month":       {"month": {"2026-13"}},
		"no year":        {"year": {"now"}},
		"no yes":         {"sold": {"maybe"}},
		"no fate":        {"fate": {"sunk"}},
		"no side":        {"comparison": {"half"}},
		"backwards":      {"from": {"2026-05-02"}, "to": {"2026-05-01"}},
	} {
		if q, err := figures.ParseQuery(figures.ListWork, bad); err == nil {
			t.Errorf("%s: taken as %s", name, q)
		}
	}
	if _, err := figures.ParseQuery("boats", nil); err == nil {
		t.Error("a list that there is not was taken")
	}
}

func FuzzParseQuery(f *testing.F) {
	f.Add("work", "month", "2026-05")
	f.Add("season", "reach", "due")
	f.Add("times", "of", "first")
	f.Add("x", "year", "9999")
	f.Fuzz(func(t *testing.T, list, name, value string) {
		q, err := figures.ParseQuery(list, map[string][]string{name: {value}})
		if err != nil {
			return
		}
		again, err := figures.ParseQuery(q.List, q.Values())
		if err != nil || again != q {
			t.Errorf("%s?%s=%s: %+v, then %+v, %v", list, name, value, q, again, err)
		}
	})
}

func ledger(t testing.TB, a *app.App, today civil.Day) *figures.Ledger {
	t.Helper()
	l, err := figures.Open(context.Background(), a, today)
	if err != nil {
		t.Fatal(err)
	}
	return l
}
