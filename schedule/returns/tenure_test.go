package returns_test

import (
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

func day(t *testing.T, s string) civil.Day {
	t.Helper()
	if s == "" {
		return 0
	}
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func history(t *testing.T, sold, end string, came ...string) returns.History {
	t.Helper()
	h := returns.History{Tenure: returns.Tenure{Boat: "B1", From: day(t, sold), Sold: day(t, sold), End: day(t, end)}}
	for _, c := range came {
		h.Comings = append(h.Comings, returns.Coming{Day: day(t, c), Paid: 100})
	}
	return h
}

func TestSpells(t *testing.T) {
	const today = "2027-06-01"
	tests := []struct {
		name  string
		h     returns.History
		first returns.Spell
		lapse returns.Spell
	}{
		{"sold lately", history(t, "2027-05-01", ""), returns.Spell{Days: 31}, returns.Spell{Days: 31}},
		{"came in autumn", history(t, "2026-05-01", "", "2026-09-28"), returns.Spell{Days: 150, Event: true}, returns.Spell{Days: 396}},
		{"never came", history(t, "2025-05-01", ""), returns.Spell{Days: 761}, returns.Spell{Days: 457, Event: true}},
		{"sold on before it came", history(t, "2026-05-01", "2026-08-09"), returns.Spell{Days: 99}, returns.Spell{Days: 99}},
		{"stayed away, then came again", history(t, "2024-05-01", "", "2024-09-01", "2026-09-01"), returns.Spell{Days: 123, Event: true}, returns.Spell{Days: 579, Event: true}},
		{"came on the very day", history(t, "2025-01-10", "", "2026-04-10"), returns.Spell{Days: 455, Event: true}, returns.Spell{Days: 872}},
		{"sold on before it lapsed", history(t, "2024-05-01", "2025-09-01", "2024-10-01"), returns.Spell{Days: 153, Event: true}, returns.Spell{Days: 487}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got, ok := tt.h.FirstReturn(day(t, today)); !ok || got != tt.first {
				t.Errorf("first return %+v, %v; want %+v", got, ok, tt.first)
			}
			if got, ok := tt.h.Lapse(day(t, today)); !ok || got != tt.lapse {
				t.Errorf("lapse %+v, %v; want %+v", got, ok, tt.lapse)
			}
		})
	}
	other := returns.History{Tenure: returns.Tenure{Boat: "B2"}}
	if _, ok := other.FirstReturn(day(t, today)); ok {
		t.Error("a boat that the shop did not sell has a time to return")
	}
}

func TestReturnMatrix(t *testing.T) {
	all := []returns.History{
		history(t, "2025-04-10", "", "2025-10-01", "2026-04-01", "2026-09-20"),
		history(t, "2025-05-10", "2026-07-31", "2025-10-01"), // left on the last day of spring 2026
		history(t, "2025-06-10", "2026-08-01"),               // left on the first day of autumn 2026
		history(t, "2026-05-10", ""),
	}
	m := returns.ReturnMatrix(all, returns.Season{Year: 2025, Half: returns.Autumn}, day(t, "2026-11-25"))
	want := map[int][]returns.Share{
		2025: {{Came: 2, Of: 3}, {Came: 1, Of: 2}, {Came: 1, Of: 1}},
		2026: {{}, {}, {Came: 0, Of: 1}},
	}
	if len(m.Seasons) != 3 || len(m.Rows) != 2 {
		t.Fatalf("seasons %v, %d rows", m.Seasons, len(m.Rows))
	}
	for _, r := range m.Rows {
		for i, c := range r.Cells {
			if c != want[r.Year][i] {
				t.Errorf("sold %d, %s: %+v, want %+v", r.Year, m.Seasons[i], c, want[r.Year][i])
			}
		}
	}
	if m.All[2] != (returns.Share{Came: 1, Of: 2}) {
		t.Errorf("all of autumn 2026: %+v", m.All[2])
	}
}

func TestSeasonsAndMonths(t *testing.T) {
	for _, s := range []string{"2027-spring", "2027-autumn"} {
		got, err := returns.ParseSeason(s)
		if err != nil || got.String() != s {
			t.Errorf("%s: %v, %v", s, got, err)
		}
		if returns.SeasonOf(got.First()) != got || returns.SeasonOf(got.Last()) != got || returns.SeasonOf(got.Last()+1) != got.Next() {
			t.Errorf("%s: its first and last days lie elsewhere", s)
		}
	}
	m, err := returns.ParseMonth("2028-02")
	if err != nil || m.String() != "2028-02" || m.Title() != "February 2028" || m.Short() != "Feb 28" || m.Last().String() != "2028-02-29" || (m+11).String() != "2029-01" {
		t.Errorf("February 2028: %v %s %s %s, %v", m, m.Title(), m.Short(), m.Last(), err)
	}
	for _, bad := range []string{"", "2027", "2027-winter", "27-spring", "0000-spring", "2027-Spring", "2027-springs"} {
		if s, err := returns.ParseSeason(bad); err == nil {
			t.Errorf("season %q taken as %v", bad, s)
		}
	}
	for _, bad := range []string{"", "2027", "2027-13", "2027-5", "2027-05-01"} {
		if m, err := returns.ParseMonth(bad); err == nil {
			t.Errorf("month %q taken as %v", bad, m)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"2027-spring", "2027-autumn", "2027-05", "x", "-", "99999-autumn"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := returns.ParseSeason(s); err == nil && v.String() != s {
			t.Errorf("season %q became %q", s, v)
		}
		if v, err := returns.ParseMonth(s); err == nil && v.String() != s {
			t.Errorf("month %q became %q", s, v)
		}
	})
}
