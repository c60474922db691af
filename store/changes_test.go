package store_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

func TestMeterNeverRunsBackwards(t *testing.T) {
	// E1 shows 236 h on 4 October 2025 and 281 h on 3 October 2026; E3 shows
	// 402.5 h on 1 May 2025, then a new meter 0 h on 1 June and 31.5 h on 1 September.
	for _, c := range []struct {
		name, engine, day string
		hours             schedule.Hours
		isNew             bool
		want              string // "" if it is taken
	}{
		{"higher and later", "E1", "2026-11-01", 2850, false, ""},
		{"same figure later", "E1", "2026-11-01", 2810, false, ""},
		{"below an earlier one", "E1", "2026-11-01", 2800, false, "280 h on 2026-11-01 is below 281 h read on 2026-10-03; correct the figure, or say that the meter is new"},
		{"below, with a new meter", "E1", "2026-11-01", 5, true, ""},
		{"between two", "E1", "2026-05-01", 2400, false, ""},
		{"between two, above the later", "E1", "2026-05-01", 2900, false, "290 h on 2026-05-01 is above 281 h read later, on 2026-10-03"},
		{"before all", "E1", "2024-05-01", 1000, false, ""},
		{"on the new meter", "E3", "2025-10-01", 320, false, ""},
		{"on the new meter, going back", "E3", "2025-10-01", 310, false, "is below 31.5 h"},
		{"on the old meter", "E3", "2025-05-15", 4100, false, ""},
		{"on the day of the new meter", "E3", "2025-06-01", 20, false, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			err := db.RecordWork(t.Context(), noon, "desk", "", store.Work{Readings: []schedule.Reading{schedule.Reading{ComponentID: c.engine, Day: day(t, c.day), Hours: c.hours, NewMeter: c.isNew}}})
			switch {
			case c.want == "" && err != nil:
				t.Errorf("refused: %v", err)
			case c.want != "" && (!errors.Is(err, store.ErrRefused) || !strings.Contains(err.Error(), c.want)):
				t.Errorf("error %v, want it refused with %q", err, c.want)
			}
		})
	}
}

func TestRecordsHaveTheirOwnIDs(t *testing.T) {
	db := open(t)
	take(t, db, small())
	r := schedule.Record{BoatID: "B1", ComponentID: "E1", Day: day(t, "2026-11-02"), Service: "impeller", Amount: 100, By: schedule.ByShop}
	var ids []string
	for range 2 {
		got, err := db.AddRecord(t.Context(), noon, "desk", r)
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, got.ID)
	}
	if ids[0] == ids[1] || ids[0] == "" {
		t.Errorf("two equal records have ids %v", ids)
	}
	m := store.Mistake{BoatID: "B1", Records: []schedule.Record{{ID: ids[0]}}}
	if err := db.TakeBackWork(t.Context(), noon, "desk", "form-1", m); err != nil {
		t.Fatal(err)
	}
	if err := db.TakeBackWork(t.Context(), noon, "desk", "form-2", m); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("taking back twice: %v, want ErrNotFound", err)
	}
	r.ComponentID = "E2"
	if _, err := db.AddRecord(t.Context(), noon, "desk", r); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("another boat's engine: %v, want ErrNotFound", err)
	}
	r.ComponentID, r.Hours, r.HasHours = "E1", 10, true
	if _, err := db.AddRecord(t.Context(), noon, "desk", r); !errors.Is(err, store.ErrRefused) {
		t.Errorf("hours below the meter: %v, want ErrRefused", err)
	}
}

func TestFollowUpsAndOverridesReachTheFacts(t *testing.T) {
	db := open(t)
	take(t, db, small())
	w := store.Work{BoatID: "B1", FollowUps: []schedule.FollowUp{{BoatID: "B1", ComponentID: "E1", Service: "diagnostics", Title: "Look again",
		Due: day(t, "2026-12-20"), Raised: day(t, "2026-11-20"), Finding: "a drip"}}}
	if err := db.RecordWork(t.Context(), noon, "desk", "", w); err != nil {
		t.Fatal(err)
	}
	f := w.FollowUps[0]
	o := schedule.Override{BoatID: "B1", ComponentID: "E1", Rule: "impeller", Months: 24, Hours: 2000, ByCustomer: true, Source: "its manual"}
	if err := db.SetOverride(t.Context(), noon, "desk", o); err != nil {
		t.Fatal(err)
	}
	facts, err := db.Facts(t.Context(), "B1")
	if err != nil || !cmp.Equal(facts.FollowUps, []schedule.FollowUp{f}) || !cmp.Equal(facts.Overrides, []schedule.Override{o}) {
		t.Errorf("facts hold %+v and %+v, %v", facts.FollowUps, facts.Overrides, err)
	}
	if err := db.RemoveFollowUp(t.Context(), noon, "desk", "B1", f.ID); err != nil {
		t.Error(err)
	}
	if err := db.RemoveOverride(t.Context(), noon, "desk", "B1", "E1", "impeller"); err != nil {
		t.Error(err)
	}
	if err := db.RemoveOverride(t.Context(), noon, "desk", "B1", "E1", "impeller"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("removing twice: %v, want ErrNotFound", err)
	}
}

func TestOwnerChanges(t *testing.T) {
	db := open(t)
	take(t, db, small())
	steps := []struct {
		customer, day, want string // want: the owners afterwards
	}{
		{"", "2026-09-01", "C1 2019-05-02..2026-09-01"},
		{"C2", "2026-10-01", "C1 2019-05-02..2026-09-01, C2 2026-10-01.."},
		{"C2", "2026-10-05", "C1 2019-05-02..2026-09-01, C2 2026-10-05.."}, // a corrected day
		{"C1", "2026-11-01", "C1 2019-05-02..2026-09-01, C2 2026-10-05..2026-11-01, C1 2026-11-01.."},
	}
	for _, s := range steps {
		if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", s.customer, day(t, s.day)); err != nil {
			t.Fatal(err)
		}
		all, err := db.Ownerships(t.Context(), "B1")
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, o := range all {
			got = append(got, o.CustomerID+" "+o.From.String()+".."+o.To.String())
		}
		if strings.Join(got, ", ") != s.want {
			t.Errorf("after %q on %s: %v, want %s", s.customer, s.day, got, s.want)
		}
	}
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "C3", day(t, "2026-11-01")); !errors.Is(err, store.ErrRefused) {
		t.Errorf("two owners from one day on: %v, want ErrRefused", err)
	}
	if boats, err := db.BoatsOf(t.Context(), "C1"); err != nil || len(boats) != 1 {
		t.Errorf("%d boats of C1, %v; want 1", len(boats), err)
	}
}

func TestSavePeopleAndBoats(t *testing.T) {
	db := open(t)
	c := schedule.Customer{ID: "C9", Name: "Ada Moor", Email: "Ada@EXAMPLE.org"}
	if err := storetest.SaveCustomer(t.Context(), db, noon, "desk", c); err != nil {
		t.Fatal(err)
	}
	got, err := db.Customer(t.Context(), "C9")
	if err != nil || got.Email != "Ada@example.org" || got.ContactBy != "email" {
		t.Errorf("customer is %+v, %v", got, err)
	}
	b := schedule.Boat{ID: "B9", HIN: "us-qqx12345a919", Kind: "runabout", Water: "fresh", Place: "Pine Cove", Berth: "own-dock"}
	if err := storetest.SaveBoat(t.Context(), db, noon, "desk", b); err != nil {
		t.Fatal(err)
	}
	p := schedule.Component{ID: "E9", BoatID: "B9", Kind: "engine", Label: "Engine"}
	if err := storetest.SaveComponent(t.Context(), db, noon, "desk", p); err != nil {
		t.Fatal(err)
	}
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B9", "C9", civil.Of(2026, 11, 25)); err != nil {
		t.Fatal(err)
	}
	f, err := db.Facts(t.Context(), "B9")
	if err != nil || f.Boat.HIN != "QQX12345A919" || len(f.Components) != 1 || f.Components[0].Attr.Berth != "own-dock" {
		t.Errorf("facts are %+v, %v", f, err)
	}
	if owner, err := db.OwnerOf(t.Context(), "B9"); err != nil || owner.ID != "C9" {
		t.Errorf("owner is %+v, %v", owner, err)
	}
	for name, err := range map[string]error{
		"a bad address":   storetest.SaveCustomer(t.Context(), db, noon, "desk", schedule.Customer{ID: "C8", Email: "no"}),
		"no id":           storetest.SaveBoat(t.Context(), db, noon, "desk", schedule.Boat{}),
		"an id of a boat": storetest.SaveComponent(t.Context(), db, noon, "desk", schedule.Component{ID: "B9", BoatID: "B9", Kind: "engine"}),
	} {
		if !errors.Is(err, store.ErrRefused) {
			t.Errorf("%s: %v, want ErrRefused", name, err)
		}
	}
}

func TestSearch(t *testing.T) {
	db := open(t)
	take(t, db, small())
	for _, c := range []struct{ text, want string }{
		{"heron", "B1"}, {"ZOE", "B1"}, {"zoë łuk", "B1"}, {"lukasz", "B1"}, {"12345a", "B1"}, {"tarnmoor skiff", "B1 B3"},
		{"555 0102", "B2"}, {"5550101", "B1"}, {"ida@", "B3"}, {"bram", "B2"}, {"100%", ""}, {"_", ""}, {"", ""}, {"B2", "B2"},
	} {
		r, err := report.Search(t.Context(), db.Reader, c.text, 10)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, h := range r.Hits {
			got = append(got, h.Boat.ID)
		}
		slices.Sort(got)
		if strings.Join(got, " ") != c.want {
			t.Errorf("searching for %q found %v, want %s", c.text, got, c.want)
		}
	}
}
