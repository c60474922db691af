package store_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/store"
)

// newSale sells a boat that is not on file to somebody who is not either.
func newSale(t *testing.T) store.Sale {
	return store.Sale{
		Form: "form-1", Day: day(t, "2026-11-25"),
		Buyer: schedule.Customer{Name: "Nils Fen", Email: "nils@example.org"},
		Boat:  schedule.Boat{HIN: "qqx 77777 a919", Make: "Tarnmoor", Model: "Skiff 20", Year: 2019, Kind: "runabout", Water: "fresh", Place: "Pine Cove", Berth: "own-dock", WarrantyUntil: day(t, "2027-02-23")},
		Components: []schedule.Component{
			{ID: "new-1", Kind: "engine", Label: "Engine", Attr: schedule.Attr{Propulsion: "outboard", Stroke: "four", Fuel: "gasoline", Cooling: "raw-water"}},
			{ID: "new-2", Kind: "trailer", Label: "Trailer"},
		},
		Work: store.Work{
			Readings:     []schedule.Reading{{ComponentID: "new-1", Day: day(t, "2026-11-25"), Hours: 2124, ReadBy: "shop"}},
			Records:      []schedule.Record{{ComponentID: "new-1", Day: day(t, "2026-11-20"), Service: "engine-oil", Hours: 2120, HasHours: true, By: schedule.ByBeforeSale}},
			Measurements: []store.Measurement{{ComponentID: "new-1", Day: day(t, "2026-11-20"), Kind: store.MeasureCompression, Figures: []float64{150, 148}}},
		},
	}
}

func TestSaleStartsEveryClock(t *testing.T) {
	db := open(t)
	take(t, db, small())
	sold, err := db.Sell(t.Context(), noon, "desk", newSale(t))
	if err != nil {
		t.Fatal(err)
	}
	f, err := db.Facts(t.Context(), sold.BoatID)
	if err != nil {
		t.Fatal(err)
	}
	if f.Boat.HIN != "QQX77777A919" || f.Boat.SoldOn.String() != "2026-11-25" || len(f.Components) != 2 || len(f.Records) != 1 || len(f.Readings) != 1 {
		t.Errorf("facts %+v", f)
	}
	if r := f.Records[0]; r.ComponentID != sold.Components["new-1"] || r.ComponentID != f.Readings[0].ComponentID {
		t.Errorf("the work is on %q, the engine is %q", r.ComponentID, sold.Components["new-1"])
	}
	m, err := db.Measurements(t.Context(), sold.BoatID)
	if err != nil || len(m) != 1 {
		t.Errorf("measurements %+v, error %v", m, err)
	}
	owner, err := db.OwnerOf(t.Context(), sold.BoatID)
	if err != nil || owner.Name != "Nils Fen" || owner.ID != sold.CustomerID || owner.ContactBy != "email" {
		t.Errorf("owner %+v, error %v", owner, err)
	}
	dirty, err := db.DirtyBoats(t.Context(), 100)
	if err != nil || !contains(dirty, sold.BoatID) {
		t.Errorf("to be planned %q, error %v", dirty, err)
	}
	if _, err := db.Sell(t.Context(), noon, "desk", newSale(t)); !errors.Is(err, store.ErrRefused) {
		t.Errorf("the same form again: error %v, want it refused", err)
	}
}

func contains(all []string, one string) bool {
	for _, s := range all {
		if s == one {
			return true
		}
	}
	return false
}

func TestSaleIsAllOrNothing(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*store.Sale)
	}{
		{"no name", func(s *store.Sale) { s.Buyer.Name = " " }},
		{"no such customer", func(s *store.Sale) { s.Buyer.ID = "C9" }},
		{"bad mail address", func(s *store.Sale) { s.Buyer.Email = "nils" }},
		{"somebody's boat", func(s *store.Sale) { s.Boat.ID = "B1" }},
		{"no such boat", func(s *store.Sale) { s.Boat.ID = "B9" }},
		{"hours beyond the meter", func(s *store.Sale) { s.Work.Records[0].Hours = 3000 }},
		{"work without a service", func(s *store.Sale) { s.Work.Records[0].Service = "" }},
		{"another boat's engine", func(s *store.Sale) { s.Work.Measurements[0].ComponentID = "E2" }},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			before := everything(t, db)
			s := newSale(t)
			c.spoil(&s)
			if _, err := db.Sell(t.Context(), noon, "desk", s); !errors.Is(err, store.ErrRefused) && !errors.Is(err, store.ErrNotFound) {
				t.Errorf("error %v, want it refused", err)
			}
			if diff := cmp.Diff(before, everything(t, db)); diff != "" {
				t.Errorf("something was written:\n%s", diff)
			}
		})
	}
}

func TestHistoryFollowsTheHull(t *testing.T) {
	for _, c := range []struct{ name, tradedIn, sold string }{
		{"sold in spring", "2026-10-20", "2026-11-25"},
		{"taken in and sold the same day", "2026-11-25", "2026-11-25"},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := answering(t)
			say(t, db, everyAnswer(t)["take"])
			say(t, db, everyAnswer(t)["sold"])
			feed, err := db.FeedState(t.Context(), store.FeedBoat, "B1")
			if err != nil {
				t.Fatal(err)
			}
			if to, err := db.HandOver(t.Context(), noon, "desk", store.Handover{BoatID: "B1", Day: day(t, c.tradedIn), Booked: store.GiveUpBooked}); err != nil || to != "" {
				t.Fatalf("to %q, error %v", to, err)
			}
			now, err := db.FeedState(t.Context(), store.FeedBoat, "B1")
			if err != nil || now.Generation != feed.Generation+1 {
				t.Errorf("the boat's calendar has generation %d, error %v; want the old one ended", now.Generation, err)
			}
			open, err := db.OpenAnswers(t.Context(), schedule.AnswerSold, 0)
			if err != nil || len(open) != 0 {
				t.Errorf("still open: %+v, error %v", open, err)
			}
			s := newSale(t)
			s.Day, s.Buyer, s.Components, s.Work = day(t, c.sold), schedule.Customer{ID: "C3", Phone: "555-0199"}, nil, store.Work{}
			s.Boat, err = db.BoatByHIN(t.Context(), "QQX-12345-A919")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := db.Sell(t.Context(), noon, "desk", s); err != nil {
				t.Fatal(err)
			}
			f, err := db.Facts(t.Context(), "B1")
			if err != nil {
				t.Fatal(err)
			}
			if len(f.Records) != 4 || len(f.Bookings) != 0 {
				t.Errorf("%d records, want all 4; bookings %+v, want none of the earlier owner's", len(f.Records), f.Bookings)
			}
			owner, err := db.OwnerOf(t.Context(), "B1")
			if err != nil || owner.Name != "Ida Fen" || owner.Phone != "555-0199" || owner.Email != "ida@example.org" {
				t.Errorf("owner %+v, error %v", owner, err)
			}
			boats, err := db.BoatsOf(t.Context(), "C1")
			if err != nil || len(boats) != 0 {
				t.Errorf("the earlier owner still sees %+v, error %v", boats, err)
			}
		})
	}
}

func TestHandOverRefusesWhatCannotBe(t *testing.T) {
	for _, c := range []struct {
		name string
		over store.Handover
	}{
		{"no day", store.Handover{BoatID: "B1"}},
		{"before they had it", store.Handover{BoatID: "B3", Day: 735000, To: schedule.Customer{ID: "C1"}}},
		{"gone, and to somebody", store.Handover{BoatID: "B1", Day: today, Gone: true, To: schedule.Customer{ID: "C2"}}},
		{"no such boat", store.Handover{BoatID: "B9", Day: today}},
		{"no such customer", store.Handover{BoatID: "B1", Day: today, To: schedule.Customer{ID: "C9"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			before := everything(t, db)
			if _, err := db.HandOver(t.Context(), noon, "desk", c.over); err == nil {
				t.Error("it was written down")
			}
			if diff := cmp.Diff(before, everything(t, db)); diff != "" {
				t.Errorf("something was written:\n%s", diff)
			}
		})
	}
}

// TestBookedDayOfABoatThatChangesHands: it is kept or given up as somebody
// says, and neither without a word.
func TestBookedDayOfABoatThatChangesOwner(t *testing.T) {
	for _, c := range []struct {
		name         string
		over         store.Handover
		refused      bool
		kept, passed int // bookings from the day on that are left, and before it
	}{
		{"nobody said", store.Handover{To: schedule.Customer{ID: "C3"}}, true, 1, 1},
		{"traded in, nobody said", store.Handover{}, true, 1, 1},
		{"something else", store.Handover{Booked: "maybe"}, true, 1, 1},
		{"kept", store.Handover{To: schedule.Customer{ID: "C3"}, Booked: store.KeepBooked}, false, 1, 1},
		{"given up", store.Handover{To: schedule.Customer{ID: "C3"}, Booked: store.GiveUpBooked}, false, 0, 1},
		{"gone", store.Handover{Gone: true}, false, 0, 1},
		{"gone, but kept", store.Handover{Gone: true, Booked: store.KeepBooked}, false, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			on := day(t, "2026-11-25")
			for _, b := range []schedule.Booking{
				{VisitID: "B1.lay-up.2026", BoatID: "B1", Kind: schedule.LayUp, Day: on - 1, Minute: -1},
				{VisitID: "B1.fit-out.2027", BoatID: "B1", Kind: schedule.FitOut, Day: on, Minute: 540},
			} {
				if err := db.Book(t.Context(), noon, "desk", b, nil, nil); err != nil {
					t.Fatal(err)
				}
			}
			before := everything(t, db)
			c.over.BoatID, c.over.Day = "B1", on
			_, err := db.HandOver(t.Context(), noon, "desk", c.over)
			if errors.Is(err, store.ErrRefused) != c.refused {
				t.Fatalf("error %v", err)
			}
			if c.refused {
				if diff := cmp.Diff(before, everything(t, db)); diff != "" {
					t.Errorf("something was written:\n%s", diff)
				}
			}
			f, err := db.Facts(t.Context(), "B1")
			if err != nil {
				t.Fatal(err)
			}
			kept, passed := 0, 0
			for _, b := range f.Bookings {
				if b.Day >= on {
					kept++
				} else {
					passed++
				}
			}
			if kept != c.kept || passed != c.passed {
				t.Errorf("%d bookings from the day on and %d before it, want %d and %d", kept, passed, c.kept, c.passed)
			}
		})
	}
}

// TestFileThatChangesTheOwnerOfABookedBoat: a file cannot ask, so the day stays
// booked and the report says so.
func TestFileThatChangesTheOwnerOfABookedBoat(t *testing.T) {
	db := open(t)
	take(t, db, small())
	b := schedule.Booking{VisitID: "B1.fit-out.2027", BoatID: "B1", Kind: schedule.FitOut, Day: day(t, "2027-05-04"), Minute: 540}
	if err := db.Book(t.Context(), noon, "desk", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	again := small()
	again["boats.csv"] += "B1,C3,QQX12345A919,Heron,Tarnmoor,Skiff 18,2019,runabout,18.5,fresh,Pine Cove,own-dock,2026-11-01,\n"
	rep := take(t, db, again)
	said := 0
	for _, n := range rep.Notes {
		if strings.Contains(n.Error(), "changes owners and its visit booked for 2027-05-04 stays booked") {
			said++
		}
	}
	f, err := db.Facts(t.Context(), "B1")
	if err != nil || said != 1 || len(f.Bookings) != 1 {
		t.Errorf("said %d times in %+v; bookings %+v, error %v", said, rep.Notes, f.Bookings, err)
	}
	if rep = take(t, db, again); len(rep.Notes) != 0 {
		t.Errorf("the same file again: %+v", rep.Notes)
	}
}
