package climate_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
)

// night is one record of a synthetic station, flags included.
type night struct {
	day          civil.Day
	tenths       int
	mflag, qflag string
}

func drawNights(t *rapid.T) []night {
	d := civil.Of(rapid.IntRange(1980, 2020).Draw(t, "year"), 3, 1)
	var ns []night
	for end := d.AddMonths(rapid.IntRange(1, 40).Draw(t, "months")); d < end; d++ {
		v := rapid.IntRange(-40, 280).Draw(t, "night")
		n := night{day: d, tenths: v}
		switch {
		case v%31 == 0:
			n.qflag = rapid.StringMatching(`[DGIKLMNORSTWXZ]`).Draw(t, "qflag")
		case v%17 == 0:
			n.mflag = rapid.SampledFrom([]string{"L", "H"}).Draw(t, "mflag")
		case v%11 == 0:
			continue
		}
		ns = append(ns, n)
	}
	return ns
}

const station = "XX000000001"

func asDly(ns []night) string {
	var b strings.Builder
	for i := 0; i < len(ns); {
		y, m, _ := ns[i].day.Date()
		cells := map[int]string{}
		for ; i < len(ns) && ns[i].day.Month() == m; i++ {
			_, _, d := ns[i].day.Date()
			cells[d] = fmt.Sprintf("%5d%1s%1sW", ns[i].tenths, ns[i].mflag, ns[i].qflag)
		}
		b.WriteString(dly(station, y, int(m), "TMAX", dlyCells(nil)))
		b.WriteString(dly(station, y, int(m), "TMIN", dlyCells(cells)))
	}
	return b.String()
}

func asByStation(ns []night) string {
	var b strings.Builder
	for _, n := range ns {
		stamp := strings.ReplaceAll(n.day.String(), "-", "")
		fmt.Fprintf(&b, "%s,%s,PRCP,0,,,W,\n", station, stamp)
		fmt.Fprintf(&b, "%s,%s,TMIN,%d,%s,%s,W,0700\n", station, stamp, n.tenths, n.mflag, n.qflag)
	}
	return b.String()
}

func asSummaries(ns []night) string {
	var b strings.Builder
	b.WriteString(`"STATION","DATE","LATITUDE","PRCP","PRCP_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"` + "\r\n")
	for _, n := range ns {
		fmt.Fprintf(&b, "\"%s\",\"%s\",\"44.1\",\"0\",\",,W\",\"%5d\",\"%s,%s,W\"\r\n", station, n.day, n.tenths, n.mflag, n.qflag)
	}
	return b.String()
}

func TestThreeFormatsGiveTheSameFreeze(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ns := drawNights(t)
		o := climate.Options{Unit: climate.TenthsC}
		var first *climate.Freeze
		for i, file := range []string{asDly(ns), asByStation(ns), asSummaries(ns)} {
			f, err := climate.Read(strings.NewReader(file), climate.Frost, o)
			if err != nil {
				t.Fatalf("format %d: %v\n%.400s", i, err, file)
			}
			if first == nil {
				first = f
			} else if diff := cmp.Diff(first, f); diff != "" {
				t.Fatalf("format %d differs from .dly: %s", i, diff)
			}
		}
		usable := 0
		for _, n := range ns {
			if n.qflag == "" && n.mflag != "L" {
				usable++
			}
		}
		dropped := 0
		for _, d := range first.Dropped {
			dropped += d.Count
		}
		if usable+dropped != len(ns) {
			t.Fatalf("%d nights, %d of them usable, but %d dropped", len(ns), usable, dropped)
		}
	})
}

func TestDetect(t *testing.T) {
	for _, c := range []struct {
		name, head string
		want       climate.Format
	}{
		{".dly", dly(station, 2001, 10, "TMIN", dlyCells(nil)), climate.FormatDly},
		{".dly, first an element with a digit", dly(station, 2001, 10, "WT01", dlyCells(nil)), climate.FormatDly},
		{"by-station", "XX000000001,20011004,TMAX,10,,,W,\n", climate.FormatByStation},
		{"by-station with a header", "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n", climate.FormatByStation},
		{"summaries", `"STATION","DATE","NAME","TMIN","TMIN_ATTRIBUTES"`, climate.FormatSummaries},
		{"summaries after a byte order mark", "\ufeffSTATION,DATE,TMIN\r\n", climate.FormatSummaries},
		{"summaries with the unit in the header", "STATION,DATE,TMIN (Degrees Fahrenheit)", climate.FormatSummaries},
		{"normals", `"STATION","ANN-TMIN-PRBFST-T28FP10"`, climate.FormatNormals},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got, err := climate.Detect([]byte(c.head)); err != nil || got != c.want {
				t.Errorf("%v, %v; want %v", got, err, c.want)
			}
		})
	}
	for _, c := range []struct{ name, head, want string }{
		{"empty", "", "empty"},
		{"gzip", "\x1f\x8b\x08\x00", "unpack it first"},
		{"zip", "PK\x03\x04xx", "save it as CSV"},
		{"UTF-16", "\xff\xfeS\x00T\x00", "UTF-16"},
		{"a web page", "<!DOCTYPE html>", "download failed"},
		{"something else", "name,phone\n", `it begins "name,phone"`},
		{"no minima", "STATION,DATE,TMAX\n", `columns "DATE" and "TMIN"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := climate.Detect([]byte(c.head))
			if got != climate.FormatUnknown {
				t.Errorf("detected %v, want nothing", got)
			}
			wantFault(t, err, c.want)
		})
	}
}

func TestOneStationOfSeveral(t *testing.T) {
	file := "A0000000001,20011004,TMIN,-10,,,W,\nB0000000002,20011005,TMIN,-20,,,W,\n"
	_, err := climate.ReadByStation(strings.NewReader(file), climate.Options{})
	wantFault(t, err, `line 2: station "B0000000002" follows station "A0000000001": say which`)
	_, err = climate.ReadByStation(strings.NewReader(file), climate.Options{Station: "C"})
	wantFault(t, err, `station "C" is not in the file, which holds A0000000001, B0000000002`)
	s, err := climate.ReadByStation(strings.NewReader(file), climate.Options{Station: "b0000000002"})
	if err != nil {
		t.Fatal(err)
	}
	if s.Station != "B0000000002" || len(s.Minima) != 1 || s.Minima[0].Tenths != -20 {
		t.Errorf("read %+v", s)
	}
}

func TestFaultsOfDly(t *testing.T) {
	good := dly(station, 2001, 10, "TMIN", dlyCells(map[int]string{4: "  -15  W"}))
	for _, c := range []struct {
		name, file string
		opts       climate.Options
		want       string
	}{
		{name: "cut short", file: good + good[:100] + "\n", want: "line 2: record"},
		{name: "a value cut off", file: good[:265] + "\n", want: "has 265 columns, want 269"},
		{name: "too long", file: strings.TrimRight(good, "\n") + "X\n", want: "has 270 columns, want 269"},
		{name: "no record at all", file: "hello\n", want: "has 5 columns, want 269"},
		{name: "month 13", file: strings.Replace(good, "200110", "200113", 1), want: `year and month "200113"`},
		{name: "a year without thermometers", file: strings.Replace(good, "200110", "010110", 1), want: `year and month "010110"`},
		{name: "letters for a value", file: strings.Replace(good, "  -15", "  -1x", 1), want: `value "-1x" of day 4`},
		{name: "31 November", file: dly(station, 2001, 11, "TMIN", dlyCells(map[int]string{31: "  -15  W"})),
			want: "day 31 of November 2001, a day that does not exist"},
		{name: "no minima", file: dly(station, 2001, 10, "TMAX", dlyCells(map[int]string{4: "  150  W"})), want: "no daily minimum"},
		{name: "all flagged", file: strings.Replace(good, "  -15  W", "  -15 SW", 1), want: "every daily minimum (TMIN) carries a quality flag"},
		{name: "the wrong unit", file: good, opts: climate.Options{Unit: climate.Celsius}, want: "tenths of °C by definition"},
		{name: "empty", file: "", want: "no daily minimum"},
		{name: "a thermometer gone mad", file: strings.Replace(good, "  -15", " 9999", 1), want: "1 of 1 values in tenths of °C are colder or warmer"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := climate.ReadDly(strings.NewReader(c.file), c.opts)
			wantFault(t, err, c.want)
		})
	}
}

func TestDlyWithoutTrailingBlanks(t *testing.T) {
	record := dly(station, 2001, 9, "TMIN", dlyCells(map[int]string{4: "  -15  W"}))
	s, err := climate.ReadDly(strings.NewReader(strings.TrimRight(record, " \n")+"\r\n\r\n"), climate.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if want := []climate.Minimum{{Day: day(t, "2001-09-04"), Tenths: -15}}; cmp.Diff(want, s.Minima) != "" {
		t.Errorf("minima %v, want %v", s.Minima, want)
	}
}

func TestFaultsOfByStation(t *testing.T) {
	for _, c := range []struct{ name, file, want string }{
		{"too few fields", "XX000000001,20011004,TMIN\n", "line 1: 3 fields, want 7 or 8"},
		{"a day that does not exist", "XX000000001,20010230,TMIN,-15,,,W,\n", `day "20010230": want YYYYMMDD`},
		{"letters for a value", "XX000000001,20011004,TMIN,x,,,W,\n", `value "x": want tenths`},
		{"decimals", "XX000000001,20011004,TMIN,-1.5,,,W,\n", `value "-1.5": want tenths`},
		{"quotes that do not pair", "XX000000001,20011004,TMIN,\"-15,,,W,\n", "quotation marks"},
		{"gzip", "\x1f\x8b\x08\x00", "unpack it first"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := climate.ReadByStation(strings.NewReader(c.file), climate.Options{})
			wantFault(t, err, c.want)
		})
	}
}

func TestDuplicatesKeepTheColder(t *testing.T) {
	file := "XX000000001,20011004,TMIN,15,,,W,\nXX000000001,20011004,TMIN,-15,,,W,\n"
	s, err := climate.ReadByStation(strings.NewReader(file), climate.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Minima) != 1 || s.Minima[0].Tenths != -15 || len(s.Dropped) != 1 || s.Dropped[0].Flag != "duplicate" {
		t.Errorf("read %+v", s)
	}
}

func TestReadingStopsAtTheTwentiethFault(t *testing.T) {
	_, err := climate.ReadByStation(strings.NewReader(strings.Repeat("x,y,TMIN,z,,,W,\n", 1000)), climate.Options{})
	fs, ok := err.(climate.Faults)
	if !ok || len(fs) != 20 || !strings.HasSuffix(err.Error(), "is this the right file?") {
		t.Errorf("got %d faults of %T: %.200v", len(fs), err, err)
	}
}

// Spreadsheet programs put a byte order mark in front of what they save.
func TestByteOrderMark(t *testing.T) {
	for name, file := range map[string]string{
		".dly":       dly(station, 2001, 10, "TMIN", dlyCells(map[int]string{4: "  -15  W"})),
		"by-station": station + ",20011004,TMIN,-15,,,W,\n",
		"summaries":  "STATION,DATE,TMIN\n" + station + ",2001-10-04,-15\n",
	} {
		t.Run(name, func(t *testing.T) {
			f, err := climate.Read(strings.NewReader("\ufeff"+file), climate.Frost, climate.Options{Unit: climate.TenthsC})
			if err != nil {
				t.Fatal(err)
			}
			if f.Station != station || f.LastSeen != day(t, "2001-10-04") {
				t.Errorf("station %q, last seen %s", f.Station, f.LastSeen)
			}
		})
	}
}
