package store_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/store"
)

func TestForecastsAreKept(t *testing.T) {
	db := open(t)
	at := time.Date(2026, 10, 7, 12, 0, 0, 0, time.UTC)
	f := store.PlaceForecast{Place: "Lake", Source: "a.json", FetchedAt: at, LastModified: "Mon", Next: at.Add(time.Hour),
		Forecast: &watch.Forecast{Source: watch.NWS, Issued: at, Spans: []watch.Span{{From: at, To: at.Add(time.Hour), Begin: 1, End: -2}}}}
	save := func(f store.PlaceForecast) store.PlaceForecast {
		t.Helper()
		if err := db.SaveForecast(t.Context(), f); err != nil {
			t.Fatal(err)
		}
		all, err := db.Forecasts(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return all["Lake"]
	}
	if got := save(f); !cmp.Equal(f, got) {
		t.Error(cmp.Diff(f, got))
	}
	if err := db.SaveJudgement(t.Context(), at, "test", store.Judgement{Place: "Lake", Issued: at}); err != nil {
		t.Fatal(err)
	}
	// A failure leaves the forecast, its age, and what was judged.
	got := save(store.PlaceForecast{Place: "Lake", Source: "a.json", Fault: "down", Failures: 2, Next: at.Add(2 * time.Hour)})
	if got.Forecast == nil || !got.FetchedAt.Equal(at) || !got.Judged.Equal(at) || got.Fault != "down" || got.Failures != 2 {
		t.Errorf("%+v", got)
	}
	// Another source's forecast is not this one's.
	if got := save(store.PlaceForecast{Place: "Lake", Source: "b.json", Fault: "down"}); got.Forecast != nil || !got.Judged.IsZero() {
		t.Errorf("%+v", got)
	}
}

func TestFreezesAreKept(t *testing.T) {
	db := open(t)
	at := time.Date(2026, 10, 7, 12, 0, 0, 0, time.UTC)
	night := civil.Of(2026, 10, 14)
	e := store.FreezeEvent{Place: "Lake", Event: watch.Event{Run: watch.Run{First: night, Last: night + 1}, Low: -41, Chance: 0.7, Brings: night, RaisedAt: at}}
	n := store.FreezeNight{Place: "Lake", Night: night, Issued: at, Lead: 7, Low: -4.1, Hours: 6, Chance: 0.7, Level: watch.Alarm}
	j := store.Judgement{Place: "Lake", Nights: []store.FreezeNight{n}, Events: []store.FreezeEvent{e}, Said: []store.FreezeSaid{{What: watch.Raised, Event: e}}}
	if err := db.SaveJudgement(t.Context(), at, "bellbuoy", j); err != nil {
		t.Fatal(err)
	}
	all, err := db.FreezeEvents(t.Context(), night)
	if err != nil || len(all) != 1 || all[0].ID == 0 || !cmp.Equal(all[0].Event, e.Event) {
		t.Fatalf("%+v, %v", all, err)
	}
	all[0].Ended, all[0].EndedAt, all[0].Brings = watch.Relented, at, 0
	n.Low = -1
	if err := db.SaveJudgement(t.Context(), at, "bellbuoy", store.Judgement{Place: "Lake", Nights: []store.FreezeNight{n}, Events: all}); err != nil {
		t.Fatal(err)
	}
	again, err := db.FreezeEvents(t.Context(), night)
	if err != nil || !cmp.Equal(all, again) {
		t.Errorf("%v\n%s", err, cmp.Diff(all, again))
	}
	nights, err := db.FreezeNights(t.Context(), "Lake", night, night)
	if err != nil || !cmp.Equal(nights, []store.FreezeNight{n}) {
		t.Errorf("%+v, %v", nights, err)
	}
	pc := store.PlaceClimate{Place: "Lake", Percentile: 10, Freeze: climate.Freeze{Recent: []climate.Minimum{{Day: night, Tenths: -35}}}}
	if err := db.SetPlaceClimate(t.Context(), at, "test", pc); err != nil {
		t.Fatal(err)
	}
	if lows, err := db.StationLows(t.Context(), "Lake", night-1, night+1); err != nil || !cmp.Equal(lows, map[civil.Day]int{night: -35}) {
		t.Errorf("%v, %v", lows, err)
	}
}
