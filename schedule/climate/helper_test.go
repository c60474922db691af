package climate_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
)

func day(t testing.TB, s string) civil.Day {
	t.Helper()
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// steady is a series of mild nights from the first to the last day; the nights
// given as "2001-10-04 -1.5" are then set, those with "none" removed.
func steady(t testing.TB, first, last string, nights ...string) *climate.Series {
	t.Helper()
	set := map[civil.Day]string{}
	for _, n := range nights {
		d, v, _ := strings.Cut(n, " ")
		set[day(t, d)] = v
	}
	s := &climate.Series{Station: "XX000000001"}
	for d := day(t, first); d <= day(t, last); d++ {
		tenths := 80
		if v := set[d]; v == "none" {
			continue
		} else if v != "" {
			var c float64
			if _, err := fmt.Sscan(v, &c); err != nil {
				t.Fatal(err)
			}
			tenths = int(c * 10)
		}
		s.Minima = append(s.Minima, climate.Minimum{Day: d, Tenths: tenths})
	}
	return s
}

// hole names every day from first to last with "none".
func hole(t testing.TB, first, last string) []string {
	t.Helper()
	var ns []string
	for d := day(t, first); d <= day(t, last); d++ {
		ns = append(ns, d.String()+" none")
	}
	return ns
}

// wantFault checks that the error is about the file, names the line and says
// what is wanted.
func wantFault(t *testing.T, err error, want string) {
	t.Helper()
	var f *climate.Fault
	if !errors.As(err, &f) {
		t.Fatalf("error %v is no fault of the file, want %q", err, want)
	}
	if !strings.Contains(err.Error(), want) {
		t.Errorf("error %q does not say %q", err, want)
	}
}

// dly writes days of one month as a .dly record.
func dly(station string, year, month int, elem string, cells [31]string) string {
	return fmt.Sprintf("%-11s%04d%02d%s%s\n", station, year, month, elem, strings.Join(cells[:], ""))
}

func dlyCells(values map[int]string) (cells [31]string) {
	for i := range cells {
		cells[i] = "-9999   "
		if v, ok := values[i+1]; ok {
			cells[i] = v
		}
	}
	return cells
}
