package imports_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// A file that still holds what a person took back does not bring it back, and says so
// line by line. Of two lines alike of which one was taken back one stays. What is
// written down again by hand is there, once.
func TestWhatWasTakenBackStaysAway(t *testing.T) {
	db := storetest.Open(t)
	files := storetest.Small()
	files["history.csv"] += "B2,,2026-10-05,hull-check,,80,shop,\nB2,,2026-10-05,hull-check,,80,shop,\n"
	storetest.Take(t, db, files)
	records := func(boat, service string) (all []schedule.Record) {
		t.Helper()
		f, err := db.Facts(t.Context(), boat)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range f.Records {
			if r.Service == service {
				all = append(all, r)
			}
		}
		return all
	}
	pump := records("B1", "impeller")[0]
	reading := schedule.Reading{ComponentID: "E1", Day: storetest.Day(t, "2025-10-04"), Hours: 2360, ReadBy: "shop"}
	for _, m := range []store.Mistake{
		{BoatID: "B1", Records: []schedule.Record{pump}, Readings: []schedule.Reading{reading}},
		{BoatID: "B2", Records: records("B2", "hull-check")[:1]},
	} {
		if err := db.TakeBackWork(t.Context(), storetest.Noon, "Inge", "taking back on "+m.BoatID, m); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 { // it says so each time
		rep := storetest.Take(t, db, files)
		var notes []string
		for _, n := range rep.Notes {
			if strings.Contains(n.What, "taken back") {
				notes = append(notes, n.Error())
			}
		}
		want := []string{
			`history.csv:2: left out: this work on boat "B1" on 2024-04-12, service "impeller", was taken back by hand; if it was done after all, record it on the boat's page or with "bellbuoy record"`,
			`history.csv:8: left out: this work on boat "B2" on 2026-10-05, service "hull-check", was taken back by hand; if it was done after all, record it on the boat's page or with "bellbuoy record"`,
			`readings.csv:2: left out: this reading of 236 h was taken back by hand; if it is right after all, enter it on the boat's page`,
		}
		if diff := cmp.Diff(want, notes); diff != "" {
			t.Errorf("notes (-want +got):\n%s", diff)
		}
		for _, f := range rep.Files {
			if f.New+f.Changed != 0 {
				t.Errorf("%s: %d new, %d changed", f.Name, f.New, f.Changed)
			}
		}
		if n := len(records("B1", "impeller")) + 10*len(records("B2", "hull-check")); n != 10 {
			t.Errorf("%d records of both", n)
		}
	}
	if err := db.RecordWork(t.Context(), storetest.Noon, "Inge", "", store.Work{BoatID: "B1", Records: []schedule.Record{pump}, Readings: []schedule.Reading{reading}}); err != nil {
		t.Fatal(err)
	}
	if rep := storetest.Take(t, db, files); len(records("B1", "impeller")) != 1 || strings.Contains(cmp.Diff("", rep.Notes), `"impeller"`) {
		t.Errorf("%d records, notes %v", len(records("B1", "impeller")), rep.Notes)
	}
}
