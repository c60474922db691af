package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/emptyshop"
	"bellbuoy/store/imports"
)

// ctx is for tests in which a framework stands between them and the context.
var ctx = context.Background()

// noon is the moment at which the tests happen: 25 November 2026.
var noon = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

func day(t testing.TB, s string) civil.Day {
	t.Helper()
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func open(t testing.TB) *store.DB {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	emptyshop.Put(t, path)
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

// small is a little shop: three customers, three boats, one of them traded in.
func small() map[string]string {
	return map[string]string{
		"customers.csv": "customer_id,name,email,phone,address,city,region,postal_code,contact_by\n" +
			"C1,Zoë Łukasz,zoe@example.org,555-0101,1 Cove Rd,Pine Landing,NY,12345,email\n" +
			"C2,Bram Teal,,(555) 0102,2 Cove Rd,Pine Landing,NY,12345,phone\n" +
			"C3,Ida Fen,ida@example.org,,,,,,\n",
		"boats.csv": "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n" +
			"B1,C1,QQX12345A919,Heron,Tarnmoor,Skiff 18,2019,runabout,18.5,fresh,Pine Cove,own-dock,2019-05-02,2020-05-01\n" +
			"B2,C2,,,Tarnmoor,Raft 22,2021,pontoon,22,fresh,Pine Cove,shop-inside,2021-06-10,\n" +
			"B3,C2,US-QQX54321G818,Wren,Tarnmoor,Skiff 16,2018,runabout,16,fresh,Pine Cove,trailer-home,2018-07-01,\n" +
			"B3,C3,QQX54321G818,Dunlin,Tarnmoor,Skiff 16,2018,runabout,16,fresh,Pine Cove,shop-outside,2024-04-20,2024-10-20\n",
		"components.csv": "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires,made,family,duty,brakes\n" +
			"E1,B1,engine,Engine,outboard,four,gasoline,raw-water,2019-05-02,,,TM60,,\n" +
			"E2,B2,engine,Engine,outboard,four,gasoline,raw-water,2021-06-10,,,TM90,50,\n" +
			"E3,B3,engine,Engine,outboard,two,gasoline,raw-water,2018-07-01,,,,,\n" +
			"T1,B1,trailer,Trailer,,,,,2019-05-02,,,,,disc\n" +
			"X1,B1,extinguisher,Extinguisher,,,,,,2031-12-31,2019,,,\n",
		"history.csv": "boat_id,component_id,day,service,hours,amount,by,note\n" +
			"B1,E1,2024-04-12,impeller,188,245.50,shop,\"two lines\nof note\"\n" +
			"B1,E1,2026-10-03,engine-oil,281,120,shop,\n" +
			"B1,,2026-10-03,lay-up,,310,shop,\n" +
			"B1,,2026-10-03,lay-up,,15,shop,second line of the same work\n" +
			"B3,E3,2024-04-10,compression-test,402.5,,before-sale,\n",
		"readings.csv": "component_id,day,hours,read_by,new_meter\n" +
			"E1,2025-10-04,236,shop,\nE1,2026-10-03,281,shop,\nE3,2025-05-01,402.5,owner,\nE3,2025-06-01,0,shop,yes\nE3,2025-09-01,31.5,shop,\n",
	}
}

func files(m map[string]string) []imports.File {
	var all []imports.File
	for name, text := range m {
		all = append(all, imports.File{Name: name, R: strings.NewReader(text)})
	}
	return all
}

func take(t testing.TB, db *store.DB, m map[string]string) imports.Report {
	t.Helper()
	rep, err := imports.Intake(t.Context(), db, noon, files(m), imports.Known{}, imports.IntakeOptions{Actor: "test"})
	if err != nil {
		for _, f := range rep.Faults {
			t.Log(f.Error())
		}
		t.Fatal(err)
	}
	return rep
}

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
