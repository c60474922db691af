package watch_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/schedule/testkit"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// shifted is a sample made colder or warmer by so many degrees.
func shifted(t testing.TB, name string, by float64) *watch.Forecast {
	t.Helper()
	f, err := watch.Parse(sample(t, name))
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Spans {
		f.Spans[i].Begin += by
		f.Spans[i].End += by
	}
	for i := range f.Lows {
		f.Lows[i].C += by
	}
	return f
}

func TestParseSamples(t *testing.T) {
	for _, c := range []struct {
		file   string
		source watch.Source
		issued string
		spans  int
		from   string
		begin  float64
		lows   int
	}{
		{"nws-gridpoint.json", watch.NWS, "2022-02-04T03:15:41Z", 154, "2022-02-03T21:00:00Z", 22.77777777777778, 8},
		{"met-norway-compact.json", watch.METNorway, "2020-07-20T01:30:57Z", 81, "2020-07-20T11:00:00Z", 26.5, 0},
	} {
		f, err := watch.Parse(sample(t, c.file))
		if err != nil {
			t.Fatal(err)
		}
		if f.Source != c.source || f.Issued.Format(time.RFC3339) != c.issued || f.Missing != 0 {
			t.Errorf("%s: %s issued %s, %d missing", c.file, f.Source, f.Issued, f.Missing)
		}
		if len(f.Spans) != c.spans || len(f.Lows) != c.lows {
			t.Errorf("%s: %d spans, %d lows; want %d, %d", c.file, len(f.Spans), len(f.Lows), c.spans, c.lows)
		}
		if s := f.Spans[0]; s.From.Format(time.RFC3339) != c.from || s.Begin != c.begin {
			t.Errorf("%s begins %+v", c.file, s)
		}
	}
}

const gridpoint = `{"properties":{"updateTime":"2026-10-07T14:00:00+00:00","temperature":{"uom":"wmoUnit:degC","values":[%s]}}}`

func TestParseSaysWhatAndWhere(t *testing.T) {
	met := `{"properties":{"meta":{"updated_at":"2026-10-07T14:00:00Z","units":{"air_temperature":"%s"}},"timeseries":[` +
		`{"time":"2026-10-07T15:00:00Z","data":{"instant":{"details":{"air_temperature":1}}}},` +
		`{"time":"%s","data":{"instant":{"details":{"air_temperature":%s}}}}]}}`
	for _, c := range []struct{ name, body, where, what string }{
		{"cut off", `{"properties":{"temp`, "line 1", "not JSON"},
		{"a page", "<html>\n", "line 1", "not JSON"},
		{"another document", `{"properties":{}}`, "properties", "neither"},
		{"another kind", `{"properties":{"temperature":"warm"}}`, "properties.temperature", "string"},
		{"no start", fmt.Sprintf(gridpoint, `{"validTime":"PT6H","value":1}`), "properties.temperature.values[0].validTime", "a start and a duration"},
		{"no instant", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08/PT6H","value":1}`), "values[0].validTime", "want an instant"},
		{"months", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/P1M","value":1}`), "values[0].validTime", "P1M"},
		{"nothing long", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/PT0H","value":1}`), "values[0].validTime", "more than none"},
		{"a year long", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/P365D","value":1}`), "values[0].validTime", "31 days"},
		{"too cold", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/PT6H","value":-9999}`), "values[0].value", "no place is that cold"},
		{"twice", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/PT6H","value":1},{"validTime":"2026-10-08T11:00:00+00:00/PT1H","value":1}`), "properties.temperature.values", "two values for 2026-10-08T11:00:00Z"},
		{"all missing", fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/PT6H","value":null}`), "properties.temperature.values", "not one temperature"},
		{"no unit", strings.Replace(fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/PT6H","value":1}`), "wmoUnit:degC", "", 1), "values[0].value", "no unit"},
		{"MET unit", fmt.Sprintf(met, "hectopascal", "2026-10-07T16:00:00Z", "1"), "properties.timeseries[0].data.instant.details.air_temperature", `unit "hectopascal"`},
		{"MET backwards", fmt.Sprintf(met, "celsius", "2026-10-07T15:00:00Z", "1"), "properties.timeseries[1].time", "does not come after"},
		{"MET too far apart", fmt.Sprintf(met, "celsius", "2026-10-08T15:00:00Z", "1"), "properties.timeseries", "within six hours"},
		{"MET in a string", fmt.Sprintf(met, "celsius", "2026-10-07T16:00:00Z", `"1"`), "air_temperature", "string"},
	} {
		_, err := watch.Parse([]byte(c.body))
		var f *watch.Fault
		if !errors.As(err, &f) || !strings.Contains(f.Where, c.where) || !strings.Contains(f.What, c.what) {
			t.Errorf("%s: %v; want %q at %q", c.name, err, c.what, c.where)
		}
	}
}

func TestParseUnitsMissingAndIntervals(t *testing.T) {
	body := strings.Replace(fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/P1DT2H30M","value":32},`+
		`{"validTime":"2026-10-07T23:00:00-07:00/PT1H","value":null},{"validTime":"2026-10-08T05:00:00+00:00/PT60M","value":14}`), "degC", "degF", 1)
	// The missing one lies over the first: what is not there is not in the way.
	f, err := watch.Parse([]byte(body))
	if err != nil {
		t.Fatal(err)
	}
	want := []watch.Span{
		{From: time.Date(2026, 10, 8, 5, 0, 0, 0, time.UTC), To: time.Date(2026, 10, 8, 6, 0, 0, 0, time.UTC), Begin: -10, End: -10},
		{From: time.Date(2026, 10, 8, 6, 0, 0, 0, time.UTC), To: time.Date(2026, 10, 9, 8, 30, 0, 0, time.UTC)},
	}
	if len(f.Spans) != 2 || f.Spans[0] != want[0] || f.Spans[1] != want[1] || f.Missing != 1 {
		t.Errorf("%+v, %d missing", f.Spans, f.Missing)
	}
}

// straight is a forecast issued on Wednesday, October 7, 2026 at 14:00 UTC, with a
// value for each hour from 18:00 on.
func straight(hours ...float64) *watch.Forecast {
	f := &watch.Forecast{Source: watch.NWS, Issued: time.Date(2026, 10, 7, 14, 0, 0, 0, time.UTC)}
	at := time.Date(2026, 10, 7, 18, 0, 0, 0, time.UTC)
	for _, c := range hours {
		f.Spans = append(f.Spans, watch.Span{From: at, To: at.Add(time.Hour), Begin: c, End: c})
		at = at.Add(time.Hour)
	}
	return f
}

// A night from 18:00 to noon: six hours of 3, four hours of -3, two of -2.2, six of 1.
var cold = []float64{3, 3, 3, 3, 3, 3, -3, -3, -3, -3, -2.2, -2.2, 1, 1, 1, 1, 1, 1}

func TestNightByHand(t *testing.T) {
	n := straight(cold...).Nights(time.Date(2026, 10, 7, 15, 0, 0, 0, time.UTC), time.UTC, 7)
	if len(n) != 1 || n[0].To != civil.Of(2026, 10, 8) || n[0].Lead != 1 || !n[0].Known || n[0].Low != -3 || n[0].Covered != 18 {
		t.Fatalf("%+v", n)
	}
	for c, want := range map[float64]float64{0: 6, -2.2: 6, -2.3: 4, -3: 4, -3.1: 0, 5: 18} {
		if got := n[0].HoursAtOrBelow(c); got != want {
			t.Errorf("%g °C: %g hours, want %g", c, got, want)
		}
	}
}

func TestNightsThatCannotBeJudged(t *testing.T) {
	f := straight(cold[:11]...) // ends at five in the morning: five cold hours
	n := f.Nights(f.Issued, time.UTC, 7)
	if len(n) != 1 || n[0].Known {
		t.Fatalf("%+v", n)
	}
	l := watch.DefaultLimits()
	if v := l.Judge(n[0]); v.Level != watch.Quiet || v.Chance != 0 {
		t.Errorf("judged all the same: %+v", v)
	}
	if n := f.Nights(time.Date(2026, 10, 8, 12, 0, 0, 0, time.UTC), time.UTC, 7); len(n) != 0 {
		t.Errorf("a night that is over: %+v", n)
	}
}

// The levels, worked by hand with sigma 2 on the first night. The four coldest
// hours are at -3: the chance is that of an error below 0.8, phi(0.4) = 0.6554.
func TestLevels(t *testing.T) {
	for _, c := range []struct {
		name   string
		warmer float64
		limits func(*watch.Limits)
		level  watch.Level
		chance float64
	}{
		{"four hours of -3", 0, nil, watch.Alarm, 0.6554},
		{"a degree warmer: phi(-0.1)", 1, nil, watch.Alarm, 0.4602},
		{"at -1.1: phi(-0.55)", 1.9, nil, watch.Watch, 0.2912},
		{"at -1.1 in a hollow of 3: phi(0.95)", 1.9, func(l *watch.Limits) { l.Offset = 3 }, watch.Alarm, 0.8289},
		{"low of 2 exactly: the margin takes it to 0", 5, nil, watch.Watch, 0.0179},
		{"low of 2.1", 5.1, nil, watch.Quiet, 0.0158},
		{"low of 2.1 with a larger margin", 5.1, func(l *watch.Limits) { l.Margin = 3 }, watch.Watch, 0.0158},
		{"an alarm from 25 %", 1.9, func(l *watch.Limits) { l.AlarmChance = 0.25 }, watch.Alarm, 0.2912},
		// Seven hours reach into the hours at 1: phi((-2.2-1)/2) = phi(-1.6).
		{"an alarm after seven hours", 0, func(l *watch.Limits) { l.AlarmHours = 7 }, watch.Watch, 0.0548},
	} {
		var hours []float64
		for _, h := range cold {
			hours = append(hours, h+c.warmer)
		}
		l := watch.DefaultLimits()
		if c.limits != nil {
			c.limits(&l)
		}
		f := straight(hours...)
		v := l.Judge(f.Nights(f.Issued, time.UTC, 1)[0])
		if v.Level != c.level || math.Abs(v.Chance-c.chance) > 0.002 {
			t.Errorf("%s: %s, chance %.4f; want %s, %.4f", c.name, v.Level, v.Chance, c.level, c.chance)
		}
	}
}

func TestSigmaGrowsWithTheLead(t *testing.T) {
	l := watch.DefaultLimits()
	for lead, want := range map[int]float64{0: 2, 1: 2, 3: 2.75, 5: 3.5, 7: 4.25} {
		if got := l.Sigma(lead); got != want {
			t.Errorf("night %d: %g, want %g", lead, got, want)
		}
	}
}

func TestLeadCountsFromTheForecast(t *testing.T) {
	f := shifted(t, "met-norway-compact.json", -30)
	nights := f.Nights(time.Date(2020, 7, 22, 15, 0, 0, 0, time.UTC), time.UTC, 3)
	// Issued on the 20th at half past one: its first night ends that morning.
	if nights[0].To != civil.Of(2020, 7, 23) || nights[0].Lead != 4 {
		t.Errorf("%+v", nights[0])
	}
}

func TestClockChangeMakesALongNight(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	f := straight(make([]float64, 30*24)...)
	nights := f.Nights(f.Issued, zone, 30)
	for _, n := range nights[1 : len(nights)-1] {
		want := 24.0
		if n.To == civil.Of(2026, 11, 1) {
			want = 25
		}
		if n.Covered != want {
			t.Errorf("night to %s has %g hours", n.To, n.Covered)
		}
	}
}

// Nights less than four days apart are one freeze.
func TestRun(t *testing.T) {
	day := func(d int) civil.Day { return civil.Of(2026, 10, d) }
	run := watch.Run{First: day(4), Last: day(4)}.Add(day(1)).Add(day(5))
	if run != (watch.Run{First: day(1), Last: day(5)}) || !run.Takes(day(8)) || run.Takes(day(9)) || !run.Takes(day(1)-3) || run.Takes(day(1)-4) {
		t.Errorf("%v", run)
	}
}

// The same lowest temperatures and hours as an independent script that walks both
// files minute by minute.
func TestHoursAgreeWithPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	testkit.Needs(t, err == nil, "python3, for the second opinion,")
	thresholds := []float64{5, 0, -2.2, -7}
	for _, file := range []string{"nws-gridpoint.json", "met-norway-compact.json"} {
		for _, shift := range []float64{0, -7.3, -21, -28.5} {
			args := []string{"testdata/hours_below.py", "testdata/" + file, "-5", fmt.Sprint(shift)}
			for _, x := range thresholds {
				args = append(args, fmt.Sprint(x))
			}
			out, err := exec.CommandContext(t.Context(), python, args...).Output()
			if err != nil {
				t.Fatalf("python: %v", err)
			}
			f := shifted(t, file, shift)
			zone := time.FixedZone("", -5*3600)
			lines := strings.Split(strings.TrimSpace(string(out)), "\n")
			nights := f.Nights(f.Spans[0].From, zone, 20)
			if len(nights) != len(lines) {
				t.Fatalf("%s: %d nights, python has %d", file, len(nights), len(lines))
			}
			for i, n := range nights {
				want := strings.Fields(lines[i])
				if !n.Known {
					if want[1] != "unknown" {
						t.Errorf("%s: night to %s unknown, python: %s", file, n.To, lines[i])
					}
					continue
				}
				if len(want) != 2+len(thresholds) || want[0] != n.To.String() {
					t.Errorf("%s: night to %s, python: %s", file, n.To, lines[i])
					continue
				}
				var low float64
				fmt.Sscan(want[1], &low)
				if math.Abs(low-n.Low) > 0.006 {
					t.Errorf("%s %+g, night to %s: low %.3f, python %s", file, shift, n.To, n.Low, want[1])
				}
				for k, x := range thresholds {
					var hours float64
					fmt.Sscan(want[2+k], &hours)
					if math.Abs(hours-n.HoursAtOrBelow(x)) > 0.08 { // a tenth printed, and minutes
						t.Errorf("%s %+g, night to %s at %g: %.2f hours, python %s", file, shift, n.To, x, n.HoursAtOrBelow(x), want[2+k])
					}
				}
			}
		}
	}
}

func TestColderIsNeverQuieter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hours := rapid.SliceOfN(rapid.Float64Range(-15, 15), 18, 18).Draw(t, "hours")
		l := watch.DefaultLimits()
		l.Offset = rapid.Float64Range(0, 5).Draw(t, "offset")
		judge := func(by float64) watch.Verdict {
			moved := make([]float64, len(hours))
			for i := range hours {
				moved[i] = hours[i] - by
			}
			f := straight(moved...)
			return l.Judge(f.Nights(f.Issued, time.UTC, 1)[0])
		}
		a, b := judge(0), judge(rapid.Float64Range(0, 10).Draw(t, "colder by"))
		if b.Level < a.Level || b.Chance < a.Chance-0.005 || b.HardHours < a.HardHours {
			t.Fatalf("%+v, colder %+v", a, b)
		}
	})
}

func FuzzParse(f *testing.F) {
	// The whole samples are read by the tests above; small ones find more here.
	f.Add([]byte(`{"properties":{"meta":{"updated_at":"2026-10-07T14:00:00Z","units":{"air_temperature":"celsius"}},"timeseries":[` +
		`{"time":"2026-10-07T15:00:00Z","data":{"instant":{"details":{"air_temperature":1}},"next_6_hours":{"details":{"air_temperature_min":-4}}}},` +
		`{"time":"2026-10-07T21:00:00Z","data":{"instant":{"details":{"air_temperature":-2}}}}]}}`))
	f.Add([]byte(fmt.Sprintf(gridpoint, `{"validTime":"2026-10-08T06:00:00+00:00/P1DT2H","value":null}`)))
	f.Fuzz(func(t *testing.T, body []byte) {
		fc, err := watch.Parse(body)
		if err != nil {
			var fault *watch.Fault
			if !errors.As(err, &fault) || fault.What == "" || fc != nil {
				t.Fatalf("forecast %v with error %v, which is no fault of the body", fc, err)
			}
			return
		}
		if len(fc.Spans) == 0 || fc.Issued.IsZero() {
			t.Fatalf("taken without a temperature: %+v", fc)
		}
		for i, s := range fc.Spans {
			if !s.From.Before(s.To) || math.IsNaN(s.Begin) || s.Begin < -95 || s.Begin > 65 || i > 0 && s.From.Before(fc.Spans[i-1].To) {
				t.Fatalf("span %+v", s)
			}
		}
		l := watch.DefaultLimits()
		for _, n := range fc.Nights(fc.Spans[0].From, time.UTC, 10) {
			if v := l.Judge(n); v.Chance < 0 || v.Chance > 1 || v.HardHours > v.Freezing+1e-9 || n.Covered > 24+1e-9 {
				t.Fatalf("night %+v", v)
			}
		}
	})
}
