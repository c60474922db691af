package app_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store/freeze"
)

// TestViewInFrench reads a boat's plan in French: the visits, the rules, and where
// the place's last day comes from, by a climate file as by the settings, whose words
// are English and stay out.
func TestViewInFrench(t *testing.T) {
	for _, c := range []struct{ name, layUp, more, french, english string }{
		{"by a climate file", "", "",
			"à faire au plus tard le 9 octobre 2026 (la première nuit à 32\u00a0°F ou moins est venue au plus tard le 9 octobre dans une année sur dix, Alder Cove, normales publiées).",
			"to be done by October 9, 2026 (the first night at or below 32°F has come by October 9 in one year in ten, Alder Cove, published normals)."},
		{"by the settings", "10-09", "source = \"our own log of the pier\"\n",
			"à faire au plus tard le 9 octobre 2026.", "to be done by October 9, 2026 (our own log of the pier)."},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := workedAppWith(t, c.layUp, 1, c.more)
			if c.layUp == "" {
				pc := freeze.Climate{Place: "Our lake", LayUp: civil.MonthDay{Month: 10, Day: 9}, Percentile: 10,
					Freeze: climate.Freeze{Threshold: climate.Frost, Name: "Alder Cove", Published: true}}
				if err := freeze.SetClimate(t.Context(), a.Writer(), d("2026-06-01").At(9, 0, a.Config.Zone()), "test", pc); err != nil {
					t.Fatal(err)
				}
			}
			settle(t, a, d("2026-07-01"))
			for language, want := range map[string][]string{"fr": {"Hivernage", c.french}, "en": {"Winterization", c.english}} {
				view, err := a.ViewIn(t.Context(), "B00", language)
				k := slices.IndexFunc(view.Visits, func(v schedule.VisitView) bool { return v.Visit.Kind == schedule.LayUp })
				if err != nil || k < 0 {
					t.Fatalf("no winterization among %d visits, %v", len(view.Visits), err)
				}
				if v := view.Visits[k]; v.Title != want[0] || !strings.HasSuffix(v.Why, want[1]) {
					t.Errorf("%s: %s. %s", language, v.Title, v.Why)
				}
			}
		})
	}
}
