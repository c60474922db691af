package climate_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
)

// year writes one year of nights that go from low in January to high in July,
// in °C, as the format writes them.
func year(header string, low, high float64, write func(c float64) string) string {
	var b strings.Builder
	b.WriteString("STATION,DATE," + header + "\n")
	first := civil.Of(2001, 1, 1)
	for d := first; d < first.AddMonths(12); d++ {
		phase := math.Cos(2 * math.Pi * float64(d-first-15) / 365)
		fmt.Fprintf(&b, "A,%s,%s\n", d, write((high+low)/2-phase*(high-low)/2))
	}
	return b.String()
}

func tenths(c float64) string     { return fmt.Sprintf("%.0f", c*10) }
func celsius(c float64) string    { return fmt.Sprintf("%.1f", c) }
func whole(c float64) string      { return fmt.Sprintf("%.0f", c) }
func fahrenheit(c float64) string { return fmt.Sprintf("%.0f", c*9/5+32) }
func fahrenhei1(c float64) string { return fmt.Sprintf("%.1f", c*9/5+32) }

func firstLines(file string, n int) string {
	return strings.Join(strings.SplitAfter(file, "\n")[:n], "")
}

func TestUnit(t *testing.T) {
	for _, c := range []struct {
		name, file string
		unit       climate.Unit
		note       string // part of the note, or of the fault if refused
		refused    bool
	}{
		{name: "tenths show by their size", file: year("TMIN", -25, 18, tenths), note: "taken to be in tenths of °C"},
		{name: "tenths of a cold place by their winter", file: year("TMIN", -35, 9, tenths), note: "taken to be in tenths of °C"},
		{name: "°C", file: year("TMIN", -25, 18, celsius), note: "taken to be in °C"},
		{name: "whole °C", file: year("TMIN", -25, 18, whole), note: "taken to be in °C"},
		{name: "°F with decimals", file: year("TMIN", -25, 18, fahrenhei1), note: "taken to be in °F"},
		{name: "whole °F may be tenths of a cool place", file: year("TMIN", -5, 18, fahrenheit), refused: true, note: "cannot be told for certain"},
		{name: "tenths of a cool place may be °F", file: year("TMIN", -5, 10, tenths), refused: true, note: "cannot be told for certain"},
		{name: "so may tenths of a place that hardly thaws", file: year("TMIN", -5, 4, tenths), refused: true, note: "cannot be told for certain"},
		{name: "too hot for °F, too broken for tenths", file: year("TMIN", 3, 60, fahrenhei1), refused: true, note: "cannot be told for certain"},
		{name: "a winter proves nothing", file: firstLines(year("TMIN", -9, 18, celsius), 60), refused: true, note: "cannot be told for certain"},
		{name: "whole °F, as told", file: year("TMIN", -5, 18, fahrenheit), unit: climate.Fahrenheit},
		{name: "°F by the header", file: year("TMIN (Degrees Fahrenheit)", -5, 18, fahrenheit), note: "header says that the minima are in °F"},
		{name: "°C by the header", file: year("TMIN (Celsius)", -5, 18, celsius), note: "header says that the minima are in °C"},
		{name: "the header is contradicted", file: year("TMIN (°C)", -5, 18, celsius), unit: climate.Fahrenheit, refused: true, note: "in °C, not in °F"},
		{name: "decimals are no tenths", file: year("TMIN", -25, 18, celsius), unit: climate.TenthsC, refused: true, note: "have decimals"},
		{name: "tenths are no °C", file: year("TMIN", -25, 18, tenths), unit: climate.Celsius, refused: true, note: "check the unit"},
		{name: "°F are no °C", file: year("TMIN", -25, 18, fahrenheit), unit: climate.Celsius, refused: true, note: "check the unit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := climate.ReadSummaries(strings.NewReader(c.file), climate.Options{Unit: c.unit})
			if c.refused {
				wantFault(t, err, c.note)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			notes := strings.Join(s.Notes, "\n")
			if !strings.Contains(notes, c.note) || (notes == "") != (c.note == "") {
				t.Errorf("notes %q, want %q", notes, c.note)
			}
			july := s.Minima[195].Tenths
			if july < 80 || july > 185 {
				t.Errorf("the July night came out at %d tenths of °C", july)
			}
		})
	}
}

// 28 °F must come out as the stored -22 tenths and 29 °F must not, in every
// unit that a file can have.
func TestFahrenheitMeetsItsThreshold(t *testing.T) {
	for _, c := range []struct {
		value string
		unit  climate.Unit
		hard  bool
		frost bool
	}{
		{"28", climate.Fahrenheit, true, true}, {"29", climate.Fahrenheit, false, true},
		{"32", climate.Fahrenheit, false, true}, {"33", climate.Fahrenheit, false, false},
		{"-2.2", climate.Celsius, true, true}, {"-2.1", climate.Celsius, false, true},
		{"0.0", climate.Celsius, false, true}, {"0.1", climate.Celsius, false, false},
		{"-22", climate.TenthsC, true, true}, {"-21", climate.TenthsC, false, true},
	} {
		s, err := climate.ReadSummaries(strings.NewReader("STATION,DATE,TMIN\nA,2001-10-04,"+c.value+"\n"), climate.Options{Unit: c.unit})
		if err != nil {
			t.Fatal(err)
		}
		for threshold, want := range map[climate.Threshold]bool{climate.HardFreeze: c.hard, climate.Frost: c.frost} {
			if got := s.Autumns(threshold, climate.Options{})[0].Froze; got != want {
				t.Errorf("%s %s at %s: froze %v, want %v", c.value, c.unit, threshold, got, want)
			}
		}
	}
}

func TestFaultsOfSummaries(t *testing.T) {
	for _, c := range []struct {
		name, file string
		opts       climate.Options
		want       string
	}{
		{name: "no minima", file: "STATION,DATE,TMAX\n", want: `line 1: no column "TMIN"`},
		{name: "no day", file: "STATION,TMIN\n", want: `line 1: no column "DATE"`},
		{name: "no station to look for", file: "DATE,TMIN\n", opts: climate.Options{Station: "A"}, want: `no column "STATION" to find station "A"`},
		{name: "header only", file: "DATE,TMIN\n", want: "no daily minimum"},
		{name: "empty", file: "", want: "no daily minimum"},
		{name: "a short line", file: "DATE,TMIN\n2001-10-04,1\n2001-10-05\n", want: "line 3: 1 fields"},
		{name: "an American day", file: "DATE,TMIN\n10/04/2001,1\n", want: `line 2: DATE "10/04/2001": want YYYY-MM-DD`},
		{name: "no number", file: "DATE,TMIN\n2001-10-04,mild\n", want: `TMIN "mild": want a number`},
		{name: "an exponent", file: "DATE,TMIN\n2001-10-04,1e1\n", want: `TMIN "1e1": want a number`},
		{name: "not a number", file: "DATE,TMIN\n2001-10-04,NaN\n", want: `TMIN "NaN": want a number`},
		{name: "south of the equator", file: "DATE,LATITUDE,TMIN\n2001-10-04,-36.8,100\n", want: "south of the equator"},
		{name: "two stations", file: "STATION,DATE,TMIN\nA,2001-10-04,1\nB,2001-10-05,1\n", want: `line 3: station "B" follows`},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := c.opts
			o.Unit = climate.TenthsC
			_, err := climate.ReadSummaries(strings.NewReader(c.file), o)
			wantFault(t, err, c.want)
		})
	}
}

func TestSummariesFlagsAndBlanks(t *testing.T) {
	file := "STATION,DATE,NAME,TMIN,TMIN_ATTRIBUTES\n" +
		"A,2001-10-01,\"OTTER ROCK, XX\",-10,\",S,W\"\n" +
		"A,2001-10-02,\"OTTER ROCK, XX\",-10,\"L,,W\"\n" +
		"A,2001-10-03,\"OTTER ROCK, XX\",-10,\"H,,W,0700\"\n" +
		"A,2001-10-04,\"OTTER ROCK, XX\",,\n" +
		"A,2001-10-05,\"OTTER ROCK, XX\",-9999,\",S,\"\n" +
		"A,2001-10-06,\"OTTER ROCK, XX\",-20,\n"
	s, err := climate.ReadSummaries(strings.NewReader(file), climate.Options{Unit: climate.TenthsC})
	if err != nil {
		t.Fatal(err)
	}
	if s.Name != "OTTER ROCK, XX" || len(s.Minima) != 2 || s.Minima[0].Day != day(t, "2001-10-03") {
		t.Errorf("read %+v", s)
	}
	want := "[{MFLAG L 1 may have been put down for the wrong day} {QFLAG S 1 failed the spatial consistency check}]"
	if got := fmt.Sprint(s.Dropped); got != want {
		t.Errorf("dropped %s, want %s", got, want)
	}
}

// TestOtherServicesFiles: columns by other names, days without padding or signs,
// and lines that end with a carriage return only.
func TestOtherServicesFiles(t *testing.T) {
	for name, text := range map[string]string{
		"plain":                    "DATE,TMIN (C)\n2001-10-05,-1.5\n2001-10-06,2\n",
		"carriage returns only":    "DATE,TMIN (C)\r2001-10-05,-1.5\r2001-10-06,2\r",
		"both":                     "DATE,TMIN (C)\r\n2001-10-05,-1.5\r\n2001-10-06,2\r\n",
		"unpadded":                 "DATE,TMIN (C)\n2001-10-5,-1.5\n2001-10-6,2\n",
		"no signs":                 "DATE,TMIN (C)\n20011005,-1.5\n20011006,2\n",
		"with a time of day":       "DATE,TMIN (C)\n2001-10-05T00:00,-1.5\n2001-10-06 00:00:00,2\n",
		"columns by other names":   "Observation Date,Min Temp (C)\n2001/10/05,-1.5\n2001/10/06,2\n",
		"and in the other's order": "low (C),day\n-1.5,2001-10-05\n2,2001-10-06\n",
	} {
		t.Run(name, func(t *testing.T) {
			f, err := climate.Read(strings.NewReader(text), climate.Frost, climate.Options{})
			if err != nil {
				t.Fatal(err)
			}
			want := []climate.Minimum{{Day: civil.Of(2001, 10, 5), Tenths: -15}, {Day: civil.Of(2001, 10, 6), Tenths: 20}}
			if !slices.Equal(f.Recent, want) {
				t.Errorf("read %v, want %v", f.Recent, want)
			}
		})
	}
}
