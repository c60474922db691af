package store_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

// TestWeekLoadKeepsUp draws plans, weeks and bookings in any order: the load
// that the file keeps is always what adding it all up again would say.
func TestWeekLoadKeepsUp(t *testing.T) {
	first := day(t, "2027-04-05").Week()
	boats := []string{"B1", "B2"}
	db := open(t) // one file for all draws: what must always hold needs no fresh start
	take(t, db, small())
	rapid.Check(t, func(rt *rapid.T) {
		visits := func(boat string) []string { return []string{boat + ".a", boat + ".b", boat + ".c"} }
		rt.Repeat(map[string]func(*rapid.T){
			"plan": func(rt *rapid.T) {
				boat := rapid.SampledFrom(boats).Draw(rt, "boat")
				var p schedule.BoatPlan
				for _, id := range visits(boat) {
					if rapid.Bool().Draw(rt, "planned") {
						p.Visits = append(p.Visits, schedule.Visit{ID: id, BoatID: boat, Kind: schedule.Extra, Labour: rapid.IntRange(0, 300).Draw(rt, "labour")})
					}
				}
				save(t, db, boat, p)
			},
			"pencil": func(rt *rapid.T) {
				id := rapid.SampledFrom(visits(rapid.SampledFrom(boats).Draw(rt, "boat"))).Draw(rt, "visit")
				w := first + civil.Week(rapid.IntRange(0, 3).Draw(rt, "week"))
				if rapid.IntRange(0, 4).Draw(rt, "none") == 0 {
					w = 0
				}
				if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: id, Week: w}}); err != nil {
					rt.Fatal(err)
				}
			},
			"book": func(rt *rapid.T) {
				boat := rapid.SampledFrom(boats).Draw(rt, "boat")
				b := schedule.Booking{BoatID: boat, VisitID: rapid.SampledFrom(visits(boat)).Draw(rt, "visit"), Kind: schedule.Extra,
					Day: first.Monday() + civil.Day(rapid.IntRange(0, 20).Draw(rt, "day")), Minute: -1}
				if err := db.Book(t.Context(), noon, "test", b, nil, nil); err != nil {
					rt.Fatal(err)
				}
			},
			"unbook": func(rt *rapid.T) {
				id := rapid.SampledFrom(visits(rapid.SampledFrom(boats).Draw(rt, "boat"))).Draw(rt, "visit")
				_ = db.Unbook(t.Context(), noon, "test", id, nil, nil) // not booked is fine
			},
			"": func(rt *rapid.T) {
				if got, want := loads(t, db), addedUp(t, db); got != want {
					rt.Fatalf("kept\n%s\nadded up\n%s", got, want)
				}
			},
		})
	})
}

func loads(t *testing.T, db *store.DB) string {
	all, err := db.WeekLoads(t.Context(), day(t, "2026-01-05").Week(), day(t, "2028-01-03").Week())
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprint(all)
}

func addedUp(t *testing.T, db *store.DB) string {
	sum := make(map[civil.Week]*store.WeekLoad)
	at := func(w civil.Week) *store.WeekLoad {
		if sum[w] == nil {
			sum[w] = &store.WeekLoad{Week: w}
		}
		return sum[w]
	}
	err := db.EachVisit(t.Context(), func(v schedule.Visit) error {
		switch {
		case v.Booked():
			l := at(v.Booking.Day.Week())
			l.Booked = l.Booked.Plus(v.Needs())
		case v.Week != 0:
			l := at(v.Week)
			l.Pencilled = l.Pencilled.Plus(v.Needs())
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	var all []store.WeekLoad
	for _, l := range sum {
		if l.Booked.Plus(l.Pencilled) != (level.Amounts{}) {
			all = append(all, *l)
		}
	}
	slices.SortFunc(all, func(x, y store.WeekLoad) int { return int(x.Week - y.Week) })
	return fmt.Sprint(all)
}
