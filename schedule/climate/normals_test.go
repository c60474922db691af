package climate_test

import (
	"os"
	"strings"
	"testing"

	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/words"
)

// Albany's figures are published; see testdata/SOURCES.md.
func TestAlbanyNormals(t *testing.T) {
	for _, c := range []struct {
		threshold climate.Threshold
		p         int
		want      string
	}{
		{climate.HardFreeze, 10, "10-11"}, {climate.HardFreeze, 50, "10-28"}, {climate.HardFreeze, 90, "11-10"},
		{climate.Frost, 10, "10-03"}, {climate.Frost, 50, "10-15"}, {climate.Frost, 90, "11-01"},
		{climate.Frost, 20, ""}, {22, 10, ""},
	} {
		file, err := os.Open("testdata/albany-normals.csv")
		if err != nil {
			t.Fatal(err)
		}
		f, err := climate.Read(file, c.threshold, climate.Options{})
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := f.Deadline(c.p); got.String() != c.want || ok != (c.want != "") {
			t.Errorf("%s: %d %% day is %s, want %s", c.threshold, c.p, got, c.want)
		}
		if !f.Published || f.Station != "USW00014735" || f.FreezesInPercent != -1 || f.LastSeen != 0 {
			t.Errorf("read %+v", f)
		}
	}
}

const head = "STATION,NAME,ANN-TMIN-PRBOCC-LSTH032,ANN-TMIN-PRBFST-T32FP10,ANN-TMIN-PRBFST-T32FP50,ANN-TMIN-PRBFST-T32FP90\n"

func TestNormals(t *testing.T) {
	for _, c := range []struct {
		name, row string
		p10       string
		share     float64
		explain   string
		note      string
	}{
		{"a freeze every year", "A,Otter Rock,100.0,10/03,10/15,11/01", "10-03", 100,
			"In 10% of autumns the first night at or below 0 °C / 32 °F has come by October 3 at Otter Rock, in half of them by October 15.", ""},
		{"padded with spaces", "A,Otter Rock, 100.0, 9/ 3 ,10/15,11/01", "09-03", 100, "by September 3", ""},
		{"into the new year", "A,Otter Rock,80,12/03,12/31,02/29", "12-03", 80, "by December 3", ""},
		{"mostly mild", "A,Otter Rock,30.0,12/03,-9999,-9999", "", 30, "Most autumns do not reach 0 °C / 32 °F at Otter Rock (30% do)", ""},
		{"never", "A,Otter Rock,0.0,-9999,-9999,-9999", "", 0, "(0% do)", ""},
		{"rarer than can be written", "A,Otter Rock,-7777,-6666,-6666,-6666", "", 0, "(0% do)", "too rare"},
		{"no share", "A,Otter Rock,-9999,10/03,-9999,-9999", "10-03", -1, "by October 3", ""},
		{"nothing at all", "A,Otter Rock,,,,", "", -1, "Nothing here tells", ""},
		{"any month", "A,Otter Rock,100,-4444,-4444,-4444", "", 100, "The published table has no 10% day", "any month"},
		{"out of order", "A,Otter Rock,100,10/03,10/15,10/14", "10-03", 100, "by October 3", "look at the table"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := climate.ReadNormals(strings.NewReader(head+c.row+"\n"), climate.Frost, climate.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if got, _ := f.Deadline(10); got.String() != c.p10 || f.FreezesInPercent != c.share {
				t.Errorf("10 %% day %s, freezes in %g %%; want %s, %g", got, f.FreezesInPercent, c.p10, c.share)
			}
			if got := f.Explain(10, words.Format{}); !strings.Contains(got, c.explain) || !strings.HasSuffix(got, "taken as they are.") {
				t.Errorf("explains %q, want %q in it", got, c.explain)
			}
			if notes := strings.Join(f.Notes, "\n"); !strings.Contains(notes, c.note) || (notes == "") != (c.note == "") {
				t.Errorf("notes %q, want %q", notes, c.note)
			}
		})
	}
}

func TestPublishedPercentilesAreNotInterpolated(t *testing.T) {
	f, err := climate.ReadNormals(strings.NewReader(head+"A,,100,10/03,10/15,11/01\n"), climate.Frost, climate.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for p := 1; p < 100; p++ {
		if got, ok := f.Deadline(p); ok != (p == 10 || p == 50 || p == 90) {
			t.Errorf("%d %% day is %s (%v), which is not published", p, got, ok)
		}
	}
}

func TestFaultsOfNormals(t *testing.T) {
	row := "A,Otter Rock,100.0,10/03,10/15,11/01\n"
	for _, c := range []struct {
		name, file string
		threshold  climate.Threshold
		opts       climate.Options
		want       string
	}{
		{name: "a day that does not exist", file: head + strings.Replace(row, "10/15", "02/30", 1), want: `line 2: ANN-TMIN-PRBFST-T32FP50 "02/30": want MM/DD`},
		{name: "a day of the year", file: head + strings.Replace(row, "10/15", "288", 1), want: `T32FP50 "288": want MM/DD`},
		{name: "more than every year", file: head + strings.Replace(row, "100.0", "101", 1), want: `LSTH032 "101": want percent`},
		{name: "less than never", file: head + strings.Replace(row, "100.0", "-3", 1), want: `LSTH032 "-3": want percent`},
		{name: "two stations", file: head + row + row, want: "line 3: a second row"},
		{name: "another station", file: head + row, opts: climate.Options{Station: "B"}, want: `station "B" is not in the file`},
		{name: "header only", file: head, want: "a header and no station"},
		{name: "empty", file: "", want: "empty"},
		{name: "other normals", file: "STATION,MLY-TMIN-NORMAL\nA,1\n", want: "not the daily or monthly ones"},
		{name: "a threshold that is not published", file: head + row, threshold: -15, want: "normals are not published for -1.5 °C"},
		{name: "nearly a published one", file: head + row, threshold: -1, want: "normals are not published for -0.1 °C / 32 °F"},
		{name: "gzip", file: "\x1f\x8b\x08", want: "unpack"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := climate.ReadNormals(strings.NewReader(c.file), c.threshold, c.opts)
			wantFault(t, err, c.want)
		})
	}
}
