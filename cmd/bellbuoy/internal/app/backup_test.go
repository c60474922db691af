package app_test

import (
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
)

func kept(days []civil.Day, b config.Backup) []string {
	var all []string
	for _, d := range slices.Sorted(maps.Keys(app.Retained(days, b))) {
		all = append(all, d.String())
	}
	return all
}

func everyDay(from, to civil.Day) (days []civil.Day) {
	for d := from; d <= to; d++ {
		days = append(days, d)
	}
	return days
}

func TestRetainedCopies(t *testing.T) {
	for _, c := range []struct {
		name string
		days []civil.Day
		b    config.Backup
		want []string
	}{
		{"none", nil, config.Backup{Daily: 7, Weekly: 5, Monthly: 12}, nil},
		{"the newest days", everyDay(civil.Of(2026, 11, 1), civil.Of(2026, 11, 25)), config.Backup{Daily: 3}, []string{"2026-11-23", "2026-11-24", "2026-11-25"}},
		// 25 November 2026 is a Wednesday; the Sundays before are the 22nd and 15th.
		{
			"the newest of each week", everyDay(civil.Of(2026, 11, 1), civil.Of(2026, 11, 25)), config.Backup{Daily: 1, Weekly: 3},
			[]string{"2026-11-15", "2026-11-22", "2026-11-25"},
		},
		{
			"the newest of each month, over a new year", everyDay(civil.Of(2025, 10, 1), civil.Of(2026, 2, 10)), config.Backup{Daily: 1, Monthly: 4},
			[]string{"2025-11-30", "2025-12-31", "2026-01-31", "2026-02-10"},
		},
		{"after a year off nothing is lost", []civil.Day{civil.Of(2024, 5, 1), civil.Of(2026, 11, 25)}, config.Backup{Daily: 2}, []string{"2024-05-01", "2026-11-25"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := kept(c.days, c.b); !slices.Equal(got, c.want) {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
}

// TestRetainedAnyHow holds for any days: the newest copy stays, no more stay
// than asked for, and what is thrown away today would not be kept tomorrow.
func TestRetainedAnyHow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.SliceOfNDistinct(rapid.Map(rapid.IntRange(0, 900), func(n int) civil.Day { return civil.Of(2026, 1, 1) + civil.Day(n) }), 1, 60, rapid.ID[civil.Day]).Draw(t, "days")
		b := config.Backup{Daily: rapid.IntRange(1, 8).Draw(t, "daily"), Weekly: rapid.IntRange(0, 6).Draw(t, "weekly"), Monthly: rapid.IntRange(0, 13).Draw(t, "monthly")}
		keep := app.Retained(days, b)
		newest := slices.Max(days)
		if !keep[newest] {
			t.Errorf("the newest copy, of %s, goes", newest)
		}
		if most := b.Daily + b.Weekly + b.Monthly; len(keep) > most || len(keep) < min(b.Daily, len(days)) {
			t.Errorf("%d copies stay, want at most %d", len(keep), most)
		}
		for d := range app.Retained(append(days, newest+1), b) {
			if d <= newest && !keep[d] {
				t.Errorf("the copy of %s is thrown away today and would be kept tomorrow", d)
			}
		}
	})
}

// TestCopiesFitTheirRoom: the oldest go, the newest three stay however large.
func TestCopiesFitTheirRoom(t *testing.T) {
	const mb = 1 << 20
	days := everyDay(civil.Of(2026, 11, 1), civil.Of(2026, 11, 6))
	for _, c := range []struct {
		name       string
		size, most int64
		want       int
	}{{"no limit", 100 * mb, 0, 6}, {"all fit", 100 * mb, 600 * mb, 6}, {"the oldest go", 100 * mb, 450 * mb, 4}, {"three stay", 100 * mb, 50 * mb, 3}} {
		t.Run(c.name, func(t *testing.T) {
			keep, sizes := map[civil.Day]bool{}, map[civil.Day]int64{}
			for _, d := range days {
				keep[d], sizes[d] = true, c.size
			}
			fits := app.Fitting(keep, sizes, c.most)
			if len(fits) != c.want || !fits[days[5]] || !fits[days[3]] {
				t.Errorf("%v stay, want the newest %d", slices.Sorted(maps.Keys(fits)), c.want)
			}
		})
	}
}
