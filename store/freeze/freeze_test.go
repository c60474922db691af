package freeze_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/store/freeze"
	"bellbuoy/store/storetest"
)

func TestForecastsAreKept(t *testing.T) {
	db := storetest.Open(t)
	at := time.Date(2026, 10, 7, 12, 0, 0, 0, time.UTC)
	f := freeze.Forecast{Place: "Lake", Source: "a.json", FetchedAt: at, LastModified: "Mon", Next: at.Add(time.Hour),
		Forecast: &watch.Forecast{Source: watch.NWS, Issued: at, Spans: []watch.Span{{From: at, To: at.Add(time.Hour), Begin: 1, End: -2}}}}
	save := func(f freeze.Forecast) freeze.Forecast {
		t.Helper()
		if err := freeze.SaveForecast(t.Context(), db, f); err != nil {
			t.Fatal(err)
		}
		all, err := freeze.Forecasts(t.Context(), db.Reader)
		if err != nil {
			t.Fatal(err)
		}
		return all["Lake"]
	}
	if got := save(f); !cmp.Equal(f, got) {
		t.Error(cmp.Diff(f, got))
	}
	if err := freeze.SaveJudgement(t.Context(), db, at, "test", freeze.Judgement{Place: "Lake", Issued: at}); err != nil {
		t.Fatal(err)
	}
	// A failure leaves the forecast, its age, and what was judged.
	got := save(freeze.Forecast{Place: "Lake", Source: "a.json", Fault: "down", Failures: 2, Next: at.Add(2 * time.Hour)})
	if got.Forecast == nil || !got.FetchedAt.Equal(at) || !got.Judged.Equal(at) || got.Fault != "down" || got.Failures != 2 {
		t.Errorf("%+v", got)
	}
	// Another source's forecast is not this one's.
	if got := save(freeze.Forecast{Place: "Lake", Source: "b.json", Fault: "down"}); got.Forecast != nil || !got.Judged.IsZero() {
		t.Errorf("%+v", got)
	}
}

func TestFreezesAreKept(t *testing.T) {
	db := storetest.Open(t)
	at := time.Date(2026, 10, 7, 12, 0, 0, 0, time.UTC)
	night := civil.Of(2026, 10, 14)
	e := freeze.Event{Place: "Lake", Event: watch.Event{Run: watch.Run{First: night, Last: night + 1}, Low: -41, Chance: 0.7, Brings: night, RaisedAt: at}}
	n := freeze.Night{Place: "Lake", Night: night, Issued: at, Lead: 7, Low: -4.1, Hours: 6, Chance: 0.7, Level: watch.Alarm}
	j := freeze.Judgement{Place: "Lake", Nights: []freeze.Night{n}, Events: []freeze.Event{e}, History: []freeze.Change{{What: watch.Raised, Event: e}}}
	if err := freeze.SaveJudgement(t.Context(), db, at, "bellbuoy", j); err != nil {
		t.Fatal(err)
	}
	all, err := freeze.Events(t.Context(), db.Reader, night)
	if err != nil || len(all) != 1 || all[0].ID == 0 || !cmp.Equal(all[0].Event, e.Event) {
		t.Fatalf("%+v, %v", all, err)
	}
	all[0].Ended, all[0].EndedAt, all[0].Brings = watch.Relented, at, 0
	n.Low = -1
	if err := freeze.SaveJudgement(t.Context(), db, at, "bellbuoy", freeze.Judgement{Place: "Lake", Nights: []freeze.Night{n}, Events: all}); err != nil {
		t.Fatal(err)
	}
	again, err := freeze.Events(t.Context(), db.Reader, night)
	if err != nil || !cmp.Equal(all, again) {
		t.Errorf("%v\n%s", err, cmp.Diff(all, again))
	}
	nights, err := freeze.Nights(t.Context(), db.Reader, "Lake", night, night)
	if err != nil || !cmp.Equal(nights, []freeze.Night{n}) {
		t.Errorf("%+v, %v", nights, err)
	}
	pc := freeze.Climate{Place: "Lake", Percentile: 10, Freeze: climate.Freeze{Recent: []climate.Minimum{{Day: night, Tenths: -35}}}}
	if err := freeze.SetClimate(t.Context(), db, at, "test", pc); err != nil {
		t.Fatal(err)
	}
	if lows, err := freeze.StationLows(t.Context(), db.Reader, "Lake", night-1, night+1); err != nil || !cmp.Equal(lows, map[civil.Day]int{night: -35}) {
		t.Errorf("%v, %v", lows, err)
	}
}
