package watch_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/schedule/testkit"
)

var update = flag.Bool("update", false, "write the golden files")

// dayRange is what a daily series knows of a day, °C.
type dayRange struct{ low, high float64 }

// station reads one location of the daily series of the npm package
// vega-datasets, 2012 to 2015.
func station(t *testing.T, location string) map[civil.Day]dayRange {
	t.Helper()
	file, err := os.Open(filepath.Join(os.Getenv("BELLBUOY_NPM"), "node_modules", "vega-datasets", "data", "weather.csv"))
	testkit.Needs(t, err == nil, "vega-datasets in the folder that BELLBUOY_NPM names")
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make(map[civil.Day]dayRange)
	for _, r := range rows[1:] { // location, date, precipitation, temp_max, temp_min, ...
		if r[0] != location {
			continue
		}
		day, err1 := civil.Parse(r[1][:10])
		high, err2 := strconv.ParseFloat(r[3], 64)
		low, err3 := strconv.ParseFloat(r[4], 64)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("%q", r)
		}
		out[day] = dayRange{low, high}
	}
	return out
}

// A daily series has no hours. The curve taken: half a wave from the high at three
// in the afternoon to the next day's low at six in the morning, and half a wave
// back up; each night's whole curve is off by one error.
func curve(days map[civil.Day]dayRange, night civil.Day, err float64) []watch.Span {
	a, b := days[night-1], days[night]
	wave := func(from, to, share float64) float64 { return from + (to-from)*(1-math.Cos(math.Pi*share))/2 }
	var out []watch.Span
	for h := range 24 {
		at := (night - 1).At(12, 0, time.UTC).Add(time.Duration(h) * time.Hour)
		clock := (float64(h) + 12.5) // the middle of the hour, counted from the midnight before noon
		var c float64
		switch {
		case clock < 15:
			c = wave(a.low, a.high, (clock-6)/9)
		case clock < 30:
			c = wave(a.high, b.low, (clock-15)/15)
		default:
			c = wave(b.low, b.high, (clock-30)/9)
		}
		out = append(out, watch.Span{From: at, To: at.Add(time.Hour), Begin: c + err, End: c + err})
	}
	return out
}

// forecastOf is what is forecast at six in the morning of a day, five nights ahead,
// with an error of the stated size for each.
func forecastOf(days map[civil.Day]dayRange, day civil.Day, l watch.Limits, rng *rand.Rand) *watch.Forecast {
	f := &watch.Forecast{Source: watch.NWS, Issued: day.At(9, 0, time.UTC)}
	for lead := 1; lead <= 5; lead++ {
		err := 0.0
		if rng != nil {
			err = rng.NormFloat64() * l.Sigma(lead)
		}
		f.Spans = append(f.Spans, curve(days, day+civil.Day(lead), err)...)
	}
	return f
}

// replayed is what a season of forecasts came to.
type replayed struct {
	alarmWarning, watchWarning int // days from the first that named the first hard freeze to it; -1 if none did
	called, hits, falseAlarms  int // nights of alarm by the forecast of the day before
	missed                     int
	watched, watchFalse        int // nights at least worth a look by the forecast of the day before, and those without a frost
}

// replay goes through an autumn day by day, August to January.
func replay(days map[civil.Day]dayRange, year int, l watch.Limits, rng *rand.Rand) (r replayed, first civil.Day) {
	truth := watch.DefaultLimits()
	truth.SigmaFirst, truth.SigmaFifth = 1e-6, 1e-6
	froze := func(night civil.Day) bool {
		f := &watch.Forecast{Issued: (night - 1).At(9, 0, time.UTC), Spans: curve(days, night, 0)}
		return truth.Judge(f.Nights(f.Issued, time.UTC, 3)[0]).Level == watch.Alarm
	}
	start, end := civil.Of(year, 9, 1), civil.Of(year, 12, 26)
	for n := start; n < end && first == 0; n++ {
		if froze(n) {
			first = n
		}
	}
	r.alarmWarning, r.watchWarning = -1, -1
	for day := start; day < end; day++ {
		f := forecastOf(days, day, l, rng)
		for i, n := range f.Nights(f.Issued, time.UTC, 8) {
			v := l.Judge(n)
			if n.To == first && v.Level == watch.Alarm && r.alarmWarning < 0 {
				r.alarmWarning = int(first - day)
			}
			if n.To == first && v.Level >= watch.Watch && r.watchWarning < 0 {
				r.watchWarning = int(first - day)
			}
			if i > 0 || n.Lead != 1 {
				continue
			}
			if v.Level >= watch.Watch {
				r.watched++
				if days[n.To].low > 0 {
					r.watchFalse++
				}
			}
			switch hard := froze(n.To); {
			case v.Level == watch.Alarm && hard:
				r.called, r.hits = r.called+1, r.hits+1
			case v.Level == watch.Alarm:
				r.called, r.falseAlarms = r.called+1, r.falseAlarms+1
			case hard:
				r.missed++
			}
		}
	}
	return r, first
}

// TestReplayedAutumns replays the public daily series as forecasts, once without
// an error and once with errors of the stated size, at margins of 0 to 4 °C and
// chances of 20 to 50 %; the table is in testdata/replay.txt.
func TestReplayedAutumns(t *testing.T) {
	var b strings.Builder
	b.WriteString(`Autumns of the daily series of vega-datasets (New York, Seattle; September 1 to December 25) replayed as forecasts.
Assumed: hours by half a wave from the high at 15:00 to the next low at 6:00 and back; one error for each night and
forecast, normal, without bias, sigma 2 °C on the first night to 3.5 °C on the fifth, drawn anew each day (seed 1); a
forecast each morning, five nights ahead. Hard freeze: four hours at or below -2.2 °C by that curve. Watch: frost is a
low at or below 0 °C. Warning: days from the first forecast that named the first hard freeze to its morning.
Nights are those of the forecast of the morning before.

`)
	type setting struct {
		errors         bool
		margin, chance float64
	}
	var perfect, usual replayed
	for _, s := range []setting{{false, 2, 0.3}, {true, 0, 0.3}, {true, 1, 0.3}, {true, 2, 0.3}, {true, 4, 0.3}, {true, 2, 0.2}, {true, 2, 0.5}} {
		fmt.Fprintf(&b, "errors %v, margin %.0f °C, alarm from %.0f%%\n", s.errors, s.margin, 100*s.chance)
		b.WriteString("  autumn          first hard freeze  warned by alarm, by watch   alarms: nights hits false missed   watch: nights without frost\n")
		var sum replayed
		for _, location := range []string{"New York", "Seattle"} {
			days := station(t, location)
			for year := 2012; year <= 2015; year++ {
				l := watch.DefaultLimits()
				l.Margin, l.AlarmChance = s.margin, s.chance
				var rng *rand.Rand
				if s.errors {
					rng = rand.New(rand.NewPCG(1, uint64(year)))
				} else {
					l.SigmaFirst, l.SigmaFifth = 1e-6, 1e-6
				}
				r, first := replay(days, year, l, rng)
				name, warned := "none", "-, -"
				if first != 0 {
					name, warned = first.String(), fmt.Sprintf("%d, %d days", r.alarmWarning, r.watchWarning)
				}
				fmt.Fprintf(&b, "  %-8s %d   %-17s  %-24s  %14d %4d %5d %6d  %14d %13d\n", location, year, name, warned, r.called, r.hits, r.falseAlarms, r.missed, r.watched, r.watchFalse)
				sum.called, sum.hits, sum.falseAlarms, sum.missed = sum.called+r.called, sum.hits+r.hits, sum.falseAlarms+r.falseAlarms, sum.missed+r.missed
				sum.watched, sum.watchFalse = sum.watched+r.watched, sum.watchFalse+r.watchFalse
			}
		}
		fmt.Fprintf(&b, "  all                                                        %14d %4d %5d %6d  %14d %13d\n\n", sum.called, sum.hits, sum.falseAlarms, sum.missed, sum.watched, sum.watchFalse)
		switch {
		case !s.errors:
			perfect = sum
		case s.margin == 2 && s.chance == 0.3:
			usual = sum
		}
	}
	t.Logf("\n%s", b.String())
	if perfect.falseAlarms != 0 || perfect.missed != 0 || perfect.hits < 10 {
		t.Errorf("a forecast without errors calls falsely: %+v", perfect)
	}
	if usual.hits < usual.missed*4 {
		t.Errorf("with the usual settings %d of %d hard freezes are missed on the evening before", usual.missed, usual.hits+usual.missed)
	}
	golden := filepath.Join("testdata", "replay.txt")
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil || string(want) != b.String() {
		t.Errorf("%s is not what this replay gives (%v); look at it and run with -update", golden, err)
	}
}
