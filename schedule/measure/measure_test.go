package measure_test

import (
	"testing"

	"bellbuoy/schedule/measure"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		in    string
		hours string // "" if refused
		cents string
	}{
		{"188", "188", "188.00"},
		{"188.5", "188.5", "188.50"},
		{"188,5", "188.5", ""},
		{"188.55", "", "188.55"},
		{"188.", "", ""},
		{"0", "0", "0.00"},
		{"-5", "", "-5.00"},
		{"-0.05", "", "-0.05"},
		{"1,234.50", "", ""},
		{"$5", "", ""},
		{"", "", ""},
		{"100000", "", "100000.00"},
		{"99999.9", "99999.9", "99999.90"},
	} {
		t.Run(c.in, func(t *testing.T) {
			if h, err := measure.ParseHours(c.in); (err == nil) != (c.hours != "") || (err == nil && h.String() != c.hours) {
				t.Errorf("hours: got %s, %v; want %q", h, err, c.hours)
			}
			if m, err := measure.ParseCents(c.in); (err == nil) != (c.cents != "") || (err == nil && m.String() != c.cents) {
				t.Errorf("money: got %s, %v; want %q", m, err, c.cents)
			}
		})
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"188.5", "-12.30", "0", "1e9", "٣"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if h, err := measure.ParseHours(s); err == nil {
			if back, err := measure.ParseHours(h.String()); err != nil || back != h {
				t.Errorf("%q reads as %s and that as %s", s, h, back)
			}
		}
		if m, err := measure.ParseCents(s); err == nil {
			if back, err := measure.ParseCents(m.String()); err != nil || back != m {
				t.Errorf("%q reads as %s and that as %s", s, m, back)
			}
		}
	})
}
