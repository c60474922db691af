package climate_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/testkit"
)

// The daily minima of New York and Seattle, 2012-2015, in the open data set of
// the npm package vega-datasets, worked out here and, apart from this program,
// by testdata/first_freeze.py with the Python standard library.
func TestFirstFreezesAgreeWithPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	testkit.Needs(t, err == nil, "python3, for the second opinion,")
	root := os.Getenv("BELLBUOY_NPM")
	path := filepath.Join(root, "node_modules", "vega-datasets", "data", "weather.csv")
	data, err := os.ReadFile(path)
	testkit.Needs(t, err == nil, "vega-datasets in the folder that BELLBUOY_NPM names")
	for _, threshold := range []climate.Threshold{climate.Frost, climate.HardFreeze, 22, -44, -89} {
		t.Run(threshold.Celsius(), func(t *testing.T) {
			out, err := exec.CommandContext(t.Context(), python, "testdata/first_freeze.py", path,
				fmt.Sprintf("%.1f", float64(threshold)/10)).Output()
			if err != nil {
				t.Fatalf("python: %v", err)
			}
			got := freezeLines(t, data, "New York", threshold) + freezeLines(t, data, "Seattle", threshold)
			if got != string(out) {
				t.Errorf("got\n%swant, from python,\n%s", got, out)
			}
		})
	}
}

// freezeLines writes the autumns as the script does.
func freezeLines(t *testing.T, data []byte, location string, threshold climate.Threshold) string {
	t.Helper()
	f, err := climate.Read(bytes.NewReader(data), threshold, climate.Options{
		Station: location,
		Columns: climate.Columns{Station: "location", Date: "date", TMin: "temp_min"},
	})
	if err != nil {
		t.Fatal(err)
	}
	if notes := strings.Join(f.Notes, " "); !strings.Contains(notes, "taken to be in °C") {
		t.Errorf("%s: the unit was not found to be °C: %q", location, notes)
	}
	var b strings.Builder
	for i, a := range f.Autumns {
		if i == 0 { // the data begin on 1 January
			if a.Used {
				t.Errorf("%s: the autumn before the data counts: %+v", location, a)
			}
			continue
		}
		first := a.First.String()
		if first == "" {
			first = "-"
		}
		fmt.Fprintf(&b, "%s,%d,%s\n", location, a.Year, first)
	}
	for _, p := range []int{10, 50} {
		share := "-"
		for _, q := range f.Percentiles {
			if q.P == p {
				share = q.Day.String()
			}
		}
		fmt.Fprintf(&b, "%s,%d%%,%s\n", location, p, share)
	}
	return b.String()
}
