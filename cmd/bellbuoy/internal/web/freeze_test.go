package web_test

import (
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store/storetest"
)

// freezeShop is a shop with a freeze forecast for the night to Saturday, a
// Wednesday in October, and three boats: a raw-water cooled inboard on its
// trailer whose owner has no email address, one in heated storage, one that is
// winterized.
func freezeShop(t *testing.T) *testShop {
	t.Helper()
	s := emptyTestShop(t, strings.ReplaceAll(shopSettings, "[[place]]\n", "[[place]]\nforecast = \"forecast.json\"\n"))
	s.now = testkit.Day(2026, time.October, 7).At(12, 0, s.app.Config.Zone())
	body, err := demo.Forecast(s.now)
	if err == nil {
		err = os.WriteFile(s.app.Config.Path("forecast.json"), body, 0o600)
	}
	db := storetest.Writer(t, s.app.DB)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(err)
	sold := testkit.Day(2022, time.May, 2)
	for id, berth := range map[string]string{"RAW": "trailer-home", "WARM": "shop-heated", "DONE": "trailer-home"} {
		c := schedule.Customer{ID: "C-" + id, Name: "Owner of " + id, Phone: "207-555-0100", ContactBy: "email"}
		b := schedule.Boat{ID: id, Name: "Boat " + id, Year: 2019, Kind: "runabout", LengthFt: 21, Water: "fresh", Place: s.app.Config.PlaceNames()[0], Berth: berth, SoldOn: sold}
		e := schedule.Component{ID: id + "-E", BoatID: id, Kind: "engine", Label: "Engine", InService: sold}
		e.Attr.Propulsion, e.Attr.Stroke, e.Attr.Fuel, e.Attr.Cooling = "inboard", "four", "gasoline", "raw-water"
		must(storetest.SaveCustomer(t.Context(), db, s.now, "test", c))
		must(storetest.SaveBoat(t.Context(), db, s.now, "test", b))
		must(storetest.SaveComponent(t.Context(), db, s.now, "test", e))
		must(storetest.SetOwner(t.Context(), db, s.now, "test", id, c.ID, sold))
	}
	_, err = db.AddRecord(t.Context(), s.now, "test", schedule.Record{BoatID: "DONE", Day: s.app.Day(s.now) - 9, Service: schedule.LayUp, By: schedule.ByShop})
	must(err)
	must(s.app.Tick(t.Context(), func() time.Time { return s.now }, slog.New(slog.DiscardHandler)))
	return s
}

func TestTheFreezeWatchIsOnTheDesksPages(t *testing.T) {
	s := freezeShop(t)
	desk, technician := s.hire("Ines", "desk"), s.hire("Tomas", "technician")
	s.as(desk, "GET", "/", nil).code(http.StatusOK).says("25°F at Lindrake Cove", "1 boat is at risk, of 3.", "Boat RAW", "block and manifolds hold water").silent("Boat WARM", "Boat DONE")
	s.as(desk, "GET", "/freeze", nil).code(http.StatusOK).
		says("1 boat at risk of 3", "ALARM", "no email address on file", "207-555-0100", "Freeze emails are switched off in the settings", "Add call note", "alarm raised", "it stands", "Data from the US National Weather Service").
		silent("Boat WARM", "Boat DONE")
	s.as(technician, "GET", "/freeze", nil).code(http.StatusOK).says("Boat RAW").silent("/book?visit=RAW")
	s.as(desk, "GET", "/calls", nil).code(http.StatusOK).says("Freeze: call first", "Owner of RAW", "Please leave the draining to a technician")
}

func TestWithoutAForecastNothingIsSaid(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ines", "desk")
	s.as(cookie, "GET", "/", nil).code(http.StatusOK).silent("at risk")
	s.as(cookie, "GET", "/freeze", nil).code(http.StatusOK).says("No place has a forecast.")
}

func TestFreezePagesAreValid(t *testing.T) {
	s := freezeShop(t)
	cookie := s.hire("Ines", "desk")
	dir := t.TempDir()
	for name, path := range map[string]string{"freeze": "/freeze", "week": "/", "phone": "/calls"} {
		if err := os.WriteFile(filepath.Join(dir, name+".html"), s.as(cookie, "GET", path, nil).Body.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	validHTML(t, dir, htmlConfig)
}
