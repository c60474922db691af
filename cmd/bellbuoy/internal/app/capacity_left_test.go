package app_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/rules"
	"bellbuoy/store"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

// leftByLines is what a week has left from a day on, counted line by line: each line of work
// takes the catalog's time for it, and each boat's day what it took of the yard.
func leftByLines(t *testing.T, a *app.App, today civil.Day) (days [7]level.Amounts) {
	t.Helper()
	week := today.Week()
	whole, err := a.Capacity(t.Context(), week, week)
	if err != nil {
		t.Fatal(err)
	}
	for day := today; day <= week.Sunday(); day++ {
		days[day-week.Monday()] = whole[0].Days[day-week.Monday()]
	}
	lines, err := report.WorkLines(t.Context(), a.DB, today, week.Sunday(), nil)
	if err != nil {
		t.Fatal(err)
	}
	rules := make(map[string]*rules.Rule) // the first of each service
	for i := range a.Planner.Catalogue().Rules {
		if r := &a.Planner.Catalogue().Rules[i]; rules[r.Service] == nil {
			rules[r.Service] = r
		}
	}
	yard := a.Config.Settings().Yard
	hauled := make(map[string][]string) // services of a boat's day
	for _, l := range lines {
		key := l.Day.String() + l.BoatID
		hauled[key] = append(hauled[key], l.Service)
		included := slices.ContainsFunc(lines, func(o report.WorkLine) bool {
			return o.BoatID == l.BoatID && o.Day == l.Day && rules[o.Service] != nil && slices.Contains(rules[o.Service].Covers, l.Service)
		})
		if r := rules[l.Service]; r != nil && !included {
			days[l.Day-week.Monday()][level.Labor] -= r.Labour
		}
	}
	for key, services := range hauled {
		b, err := a.DB.Boat(t.Context(), key[len("2026-10-05"):])
		if err != nil {
			t.Fatal(err)
		}
		minutes, lifts := yard.Took(&b, services)
		day := &days[d(key[:len("2026-10-05")])-week.Monday()]
		day[level.Yard] -= minutes
		day[level.Lifts] -= lifts
	}
	for i := range days {
		for r := range days[i] {
			days[i][r] = max(0, days[i][r])
		}
	}
	return days
}

// TestWhatTheWeekHasLeft: whatever was recorded, by whom and on which boats, the running
// week has left what counting line by line leaves: with a yard that limits and without,
// from any of its days on, and whoever changed it, this process or another. Jobs that a
// commissioning includes take no time beside it.
func TestWhatTheWeekHasLeft(t *testing.T) {
	const yard = "[yard]\ncrew_hours = [16, 16, 16, 16, 16, 0, 0]\nlifts = [9, 9, 9, 9, 9, 0, 0]\n[[yard.work]]\nhaul = 20\nwash = 10\nlaunch = 15\n[[yard.work]]\nberth = \"own-lift\"\nwash = 5\n[[yard.work]]\nkind = \"pontoon\"\nhaul = 35\nlaunch = 30\n"
	services := []string{schedule.LayUp, schedule.FitOut, schedule.ServiceHaul, schedule.ServiceLaunch, "engine-oil", "oil-filter", "gear-lube", "impeller", "impeller-check", "hull-check", "battery-test", "no such job"}
	for name, more := range map[string]string{"yard": yard, "no yard": ""} {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(11, 3))
			a := workedAppWith(t, "10-20", 0, more)
			monday := d("2026-10-05")
			var boats []schedule.Boat
			for i := range 12 {
				b := schedule.Boat{ID: string(rune('A' + i)), Name: "Boat", Kind: schedule.BoatKinds[i%len(schedule.BoatKinds)], Water: "fresh", Place: "Our lake", Berth: schedule.Berths[i%len(schedule.Berths)]}
				if err := storetest.SaveBoat(t.Context(), a.Writer(), monday.At(8, 0, a.Config.Zone()), "test", b); err != nil {
					t.Fatal(err)
				}
				boats = append(boats, b)
			}
			at := monday.At(9, 0, a.Config.Zone())
			another, err := app.Open(t.Context(), a.Config) // as a command beside the daemon
			if err != nil {
				t.Fatal(err)
			}
			defer another.Close()
			var recorded []schedule.Record
			took, today := 0, monday
			for round := range 150 {
				if round%25 == 24 {
					today = monday + civil.Day(random.IntN(7))
				}
				i := random.IntN(len(boats))
				switch by := []*app.App{a, another}[random.IntN(2)]; random.IntN(8) {
				case 0: // the boat moves to another berth
					boats[i].Berth = schedule.Berths[random.IntN(len(schedule.Berths))]
					err = storetest.SaveBoat(t.Context(), by.Writer(), at, "test", boats[i])
				case 1: // nothing
				case 2:
					if k := len(recorded); k > 0 {
						k = random.IntN(k)
						err = by.Writer().TakeBackWork(t.Context(), at, "test", fmt.Sprint("form ", round), store.Mistake{BoatID: recorded[k].BoatID, Records: recorded[k : k+1]})
						recorded = slices.Delete(recorded, k, k+1)
					}
				default:
					r := schedule.Record{BoatID: boats[i].ID, Day: monday + civil.Day(random.IntN(9)) - 1, Service: services[random.IntN(len(services))], By: schedule.ByShop}
					if random.IntN(5) == 0 {
						r.By = schedule.ByElsewhere
					}
					r, err = by.Writer().AddRecord(t.Context(), at, "test", r)
					recorded = append(recorded, r)
				}
				if err != nil {
					t.Fatal(err)
				}
				got, err := a.CapacityLeft(t.Context(), today, today.Week()-1, today.Week()+1)
				if err != nil {
					t.Fatal(err)
				}
				want := leftByLines(t, a, today)
				if !slices.Equal(got[1].Days[:], want[:]) {
					t.Fatalf("after %d changes the week has left, from %s on,\n%v, want\n%v", round+1, today, got[1].Days, want)
				}
				if whole, _ := a.Capacity(t.Context(), today.Week(), today.Week()); today == monday && got[1].Total() != whole[0].Total() {
					took++
				}
			}
			if took == 0 {
				t.Fatal("no work took anything: the test proves nothing")
			}
		})
	}
}
