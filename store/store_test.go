package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bellbuoy/schedule"
	"bellbuoy/store"
)

// ctx is for tests in which a framework stands between them and the context.
var ctx = context.Background()

func TestOpenMakesAPrivateFile(t *testing.T) {
	db := open(t)
	take(t, db, small())
	for _, suffix := range []string{"", "-wal", "-shm"} {
		info, err := os.Stat(db.Path() + suffix)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %o, want 600", filepath.Base(info.Name()), info.Mode().Perm())
		}
	}
}

func TestOpenTakesOddPaths(t *testing.T) {
	for _, name := range []string{"we ird#1?mode=ro.db", "100%.db", "é.db"} {
		path := filepath.Join(t.TempDir(), name)
		db, err := store.Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%q was not written: %v", name, err)
		}
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	junk := filepath.Join(dir, "junk.db")
	if err := os.WriteFile(junk, []byte(strings.Repeat("not a database ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{dir, junk, filepath.Join(dir, "no", "folder.db")} {
		if db, err := store.Open(t.Context(), path); err == nil {
			db.Close()
			t.Errorf("Open(%q) did not fail", path)
		}
	}
}

func TestFactsHoldWhatTheFilesSay(t *testing.T) {
	db := open(t)
	take(t, db, small())
	f, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	attr := schedule.Attr{Kind: "engine", Propulsion: "outboard", Stroke: "four", Fuel: "gasoline", Cooling: "raw-water",
		Family: "TM60", Water: "fresh", Berth: "own-dock", BoatKind: "runabout"}
	want := schedule.Facts{
		Boat: schedule.Boat{ID: "B1", HIN: "QQX12345A919", Name: "Heron", Make: "Tarnmoor", Model: "Skiff 18", Year: 2019, Kind: "runabout",
			LengthFt: 18.5, Water: "fresh", Place: "Pine Cove", Berth: "own-dock", SoldOn: day(t, "2019-05-02"), WarrantyUntil: day(t, "2020-05-01")},
		Place: schedule.Place{Name: "Pine Cove"},
		Components: []schedule.Component{
			{ID: "E1", BoatID: "B1", Kind: "engine", Label: "Engine", InService: day(t, "2019-05-02"), Duty: 100, Attr: attr},
			{ID: "T1", BoatID: "B1", Kind: "trailer", Label: "Trailer", InService: day(t, "2019-05-02"), Duty: 100,
				Attr: schedule.Attr{Kind: "trailer", Water: "fresh", Berth: "own-dock", BoatKind: "runabout", Extra: "brakes=disc"}},
			{ID: "X1", BoatID: "B1", Kind: "extinguisher", Label: "Extinguisher", Expires: day(t, "2031-12-31"), Made: day(t, "2019-01-01"), Duty: 100,
				Attr: schedule.Attr{Kind: "extinguisher", Water: "fresh", Berth: "own-dock", BoatKind: "runabout"}},
		},
		Records: []schedule.Record{
			{BoatID: "B1", ComponentID: "E1", Day: day(t, "2024-04-12"), Service: "impeller", Hours: 1880, HasHours: true, Amount: 24550, By: "shop", Note: "two lines\nof note"},
			{BoatID: "B1", ComponentID: "E1", Day: day(t, "2026-10-03"), Service: "engine-oil", Hours: 2810, HasHours: true, Amount: 12000, By: "shop"},
			{BoatID: "B1", Day: day(t, "2026-10-03"), Service: "lay-up", Amount: 31000, By: "shop"},
			{BoatID: "B1", Day: day(t, "2026-10-03"), Service: "lay-up", Amount: 1500, By: "shop", Note: "second line of the same work"},
		},
		Readings: []schedule.Reading{
			{ComponentID: "E1", Day: day(t, "2025-10-04"), Hours: 2360, ReadBy: "shop"},
			{ComponentID: "E1", Day: day(t, "2026-10-03"), Hours: 2810, ReadBy: "shop"},
		},
		LastContact: day(t, "2019-05-02"), // the owner got the boat
	}
	if diff := cmp.Diff(want, f, cmpopts.EquateEmpty(), cmpopts.IgnoreFields(schedule.Record{}, "ID"), anyRecordOrder()); diff != "" {
		t.Errorf("facts differ (-want +got):\n%s", diff)
	}
	if _, err := db.Facts(t.Context(), "B9"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("facts of an unknown boat: %v, want ErrNotFound", err)
	}
}

func anyRecordOrder() cmp.Option {
	return cmpopts.SortSlices(func(a, b schedule.Record) bool {
		if a.Day != b.Day {
			return a.Day < b.Day
		}
		return a.Service+a.Note < b.Service+b.Note
	})
}

func TestEachFactsIsFactsOfEach(t *testing.T) {
	db := open(t)
	take(t, db, small())
	each := func(ids []string) []string {
		var seen []string
		err := db.EachFacts(t.Context(), ids, func(f *schedule.Facts) error {
			seen = append(seen, f.Boat.ID)
			want, err := db.Facts(context.WithoutCancel(t.Context()), f.Boat.ID)
			if err != nil {
				return err
			}
			if diff := cmp.Diff(want, *f, cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("boat %s differs (-alone +streamed):\n%s", f.Boat.ID, diff)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return seen
	}
	if got := each(nil); !cmp.Equal(got, []string{"B1", "B2", "B3"}) {
		t.Errorf("the fleet came as %v", got)
	}
	if got := each([]string{"B3", "none", "B1", "B3"}); !cmp.Equal(got, []string{"B1", "B3"}) {
		t.Errorf("the named boats came as %v", got)
	}
	stop := errors.New("stop")
	if err := db.EachFacts(t.Context(), nil, func(*schedule.Facts) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("an error of the caller came back as %v", err)
	}
}

func TestIntakeAgainChangesNothing(t *testing.T) {
	db := open(t)
	for _, f := range take(t, db, small()).Files {
		if f.New != f.Rows || f.Rows == 0 {
			t.Errorf("first time: %+v, want every row new", f)
		}
	}
	for _, f := range take(t, db, small()).Files {
		if f.Unchanged != f.Rows || f.Rows == 0 {
			t.Errorf("second time: %+v, want every row unchanged", f)
		}
	}
}

func TestTradedInBoat(t *testing.T) {
	db := open(t)
	take(t, db, small())
	got, err := db.Ownerships(t.Context(), "B3")
	if err != nil {
		t.Fatal(err)
	}
	want := []schedule.Ownership{
		{BoatID: "B3", CustomerID: "C2", From: day(t, "2018-07-01"), To: day(t, "2024-04-20")},
		{BoatID: "B3", CustomerID: "C3", From: day(t, "2024-04-20")},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("owners differ (-want +got):\n%s", diff)
	}
	b, err := db.Boat(t.Context(), "B3")
	if err != nil || b.Name != "Dunlin" || b.HIN != "QQX54321G818" || b.SoldOn != day(t, "2024-04-20") {
		t.Errorf("boat is %+v, %v; want the later sale's line", b, err)
	}
}
