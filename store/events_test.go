package store_test

import (
	"slices"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// A season visit of ours at a boat that we store hauls or launches it, and the
// file says so; one elsewhere, or of a boat kept at her own dock, does not.
func TestSeasonVisitWritesHaulAndLaunch(t *testing.T) {
	for _, c := range []struct {
		name, berth, service, by string
		want                     []string
	}{
		{"winterization of a stored boat", "shop-outside", "lay-up", schedule.ByShop, []string{"haul-out"}},
		{"commissioning of a stored boat", "shop-heated", "fit-out", schedule.ByShop, []string{"launch"}},
		{"elsewhere", "shop-outside", "lay-up", schedule.ByElsewhere, nil},
		{"at her own dock", "own-dock", "lay-up", schedule.ByShop, nil},
		{"oil", "shop-outside", "engine-oil", schedule.ByShop, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			b, err := db.Boat(t.Context(), "B1")
			if err != nil {
				t.Fatal(err)
			}
			b.Berth = c.berth
			if err := storetest.SaveBoat(t.Context(), db, noon, "desk", b); err != nil {
				t.Fatal(err)
			}
			// The boat and its engine are two records of one visit.
			w := store.Work{BoatID: "B1", Records: []schedule.Record{
				{BoatID: "B1", Day: day(t, "2026-11-02"), Service: c.service, By: c.by},
				{BoatID: "B1", ComponentID: "E1", Day: day(t, "2026-11-02"), Service: c.service, By: c.by},
			}}
			if err := db.RecordWork(t.Context(), noon, "desk", "form", w); err != nil {
				t.Fatal(err)
			}
			f, err := db.Facts(t.Context(), "B1")
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, r := range f.Records {
				if r.Day == day(t, "2026-11-02") && slices.Contains([]string{"haul-out", "launch"}, r.Service) {
					got = append(got, r.Service)
					if r.ComponentID != "" || r.By != schedule.ByShop {
						t.Errorf("%s on %q by %s, want the whole boat by the shop", r.Service, r.ComponentID, r.By)
					}
				}
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("wrote %v, want %v", got, c.want)
			}
		})
	}
}
