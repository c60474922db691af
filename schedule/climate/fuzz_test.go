package climate_test

import (
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/words"
)

// checkSeries fails if a reader accepted what it promises to refuse.
func checkSeries(t *testing.T, s *climate.Series, err error) {
	t.Helper()
	if err != nil {
		var f *climate.Fault
		if !errors.As(err, &f) || s != nil {
			t.Fatalf("series %v with error %v, which is no fault of the file", s, err)
		}
		return
	}
	var last civil.Day
	for _, m := range s.Minima {
		if m.Day <= last || m.Tenths < -900 || m.Tenths > 500 {
			t.Fatalf("minimum %s %d after %s", m.Day, m.Tenths, last)
		}
		last = m.Day
	}
	if len(s.Minima) == 0 {
		t.Fatal("a series without a value was accepted")
	}
	f := s.Freeze(climate.Frost, climate.Options{})
	for _, a := range f.Autumns {
		if a.Froze != (a.First != 0) || a.Used != (a.Reason == "") || a.Missing < 0 || a.Missing > 366 {
			t.Fatalf("autumn %+v", a)
		}
	}
	if f.Explain(10, words.Format{}) == "" || f.LastSeen != last {
		t.Fatalf("explained as %q, last seen %s, want %s", f.Explain(10, words.Format{}), f.LastSeen, last)
	}
}

func FuzzReadDly(f *testing.F) {
	good := dly(station, 2001, 10, "TMIN", dlyCells(map[int]string{4: "  -15  W", 5: "   20L W", 6: "  -99 SW"}))
	for _, s := range []string{good, good[:266], good + good, strings.Replace(good, "200110", "200002", 1), "\r\n", "\xff" + good} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		series, err := climate.ReadDly(strings.NewReader(s), climate.Options{})
		checkSeries(t, series, err)
	})
}

func FuzzReadByStation(f *testing.F) {
	for _, s := range []string{
		"XX000000001,20011004,TMIN,-15,,,W,0700\n", "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG\n",
		"XX000000001,20010229,TMIN,-15,L,S,W\n", "\ufeff\"XX\",20011004,TMIN,\"-15\",,,,\r\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		series, err := climate.ReadByStation(strings.NewReader(s), climate.Options{})
		checkSeries(t, series, err)
	})
}

func FuzzReadSummaries(f *testing.F) {
	for _, s := range []string{
		"STATION,DATE,TMIN,TMIN_ATTRIBUTES\nA,2001-10-04,-15,\",,W\"\n", "DATE,TMIN (Celsius)\n2001-10-04,-1.5\n",
		"date,latitude,tmin\n2001-10-04,-1,5\n", year("TMIN", -25, 18, tenths)[:300],
	} {
		f.Add(s, 0)
		f.Add(s, 3)
	}
	f.Fuzz(func(t *testing.T, s string, unit int) {
		series, err := climate.ReadSummaries(strings.NewReader(s), climate.Options{Unit: climate.Unit(((unit % 4) + 4) % 4)})
		checkSeries(t, series, err)
	})
}

func FuzzReadNormals(f *testing.F) {
	albany, err := os.ReadFile("testdata/albany-normals.csv")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(albany))
	f.Add(head + "A,Otter Rock,-7777,-6666, 9/ 3,02/29\n")
	f.Fuzz(func(t *testing.T, s string) {
		got, err := climate.ReadNormals(strings.NewReader(s), climate.Frost, climate.Options{})
		if err != nil {
			var fault *climate.Fault
			if !errors.As(err, &fault) || got != nil {
				t.Fatalf("%v with error %v, which is no fault of the file", got, err)
			}
			return
		}
		for _, p := range got.Percentiles {
			if back, err := civil.ParseMonthDay(p.Day.String()); err != nil || back != p.Day {
				t.Fatalf("the %d %% day is %q", p.P, p.Day)
			}
		}
		if got.Explain(10, words.Format{}) == "" || got.FreezesInPercent > 100 || got.FreezesInPercent < -1 {
			t.Fatalf("read %+v", got)
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"", "\x1f\x8b", "STATION,DATE,TMIN\nA,2001-10-04,-15\n", "XX000000001,20011004,TMIN,-15,,,W,\n",
		dly(station, 2001, 10, "TMIN", dlyCells(map[int]string{4: "  -15  W"})), head + "A,,1,10/03,10/15,11/01\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		format, err := climate.Detect([]byte(s))
		if (err == nil) != (format != climate.FormatUnknown) {
			t.Fatalf("detected %v with error %v", format, err)
		}
		got, err := climate.Read(strings.NewReader(s), climate.Frost, climate.Options{})
		if (err == nil) != (got != nil) {
			t.Fatalf("read %v with error %v", got, err)
		}
	})
}

// BenchmarkReadByStation reads thirty years with two elements a day.
func BenchmarkReadByStation(b *testing.B) {
	var ns []night
	for d := civil.Of(1991, 1, 1); d < civil.Of(2021, 1, 1); d++ {
		ns = append(ns, night{day: d, tenths: int(d) % 300})
	}
	file := asByStation(ns)
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		if _, err := climate.ReadByStation(io.Reader(strings.NewReader(file)), climate.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
