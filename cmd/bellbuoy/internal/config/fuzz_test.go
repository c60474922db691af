package config

import (
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
)

// FuzzParse reads any settings. Those that are taken can be used: every figure of
// the weeks is one that a shop can have.
func FuzzParse(f *testing.F) {
	f.Add(string(Template))
	f.Add("\ufeff[shop]\nname = \"A\"\nzone = \"Europe/Berlin\"\nurl = \"https://a.example\"\n")
	f.Add("[weeks]\nallowance = nan\ntarget = inf\n[[weeks.technician]]\nname = \"T\"\nhours = [8, 8, 8, 8, 8, 0, -1]\n")
	f.Add("[yard]\ncrew_hours = [1e308, 0, 0, 0, 0, 0, 0]\nlifts = [9223372036854775807, 0, 0, 0, 0, 0, 0]\n[[yard.work]]\nhaul = 30\n")
	f.Add("[[place]]\nname = \"Lake\"\nlaunch = \"02-29\"\nlay_up = \"10-09\"\n[freeze]\n")
	f.Add("[weeks]\nholidays = [\"2026-02-29\", \"0000-00-00\"]\nholiday_calendar = \"mars\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		checkPages(t, text)
		c, err := Parse("bellbuoy.toml", []byte(text))
		if err != nil {
			if c != nil || strings.TrimSpace(err.Error()) == "" {
				t.Fatalf("%+v, %q", c, err)
			}
			return
		}
		first := civil.Of(2026, 12, 21).Week()
		for _, w := range c.Capacity(first, first+3, 0, nil, nil) {
			for r, n := range w.Total() {
				if n < 0 || n > 1<<40 {
					t.Fatalf("week %s has %d of resource %d", w.Week, n, r)
				}
			}
		}
		if c.Zone() == nil {
			t.Fatal("no zone")
		}
		_ = c.Settings()
		for _, name := range c.PlaceNames() {
			_, _ = c.Place(name), c.Limits(name)
		}
		if _, err := Parse("bellbuoy.toml", []byte(text)); err != nil {
			t.Fatalf("taken and then refused: %v", err)
		}
	})
}

// checkPages reads any text as what the pages wrote. What is taken can be written
// again and says the same.
func checkPages(t *testing.T, text string) {
	main, err := Parse("bellbuoy.toml", nil)
	if err != nil {
		t.Fatal(err)
	}
	c, err := main.With([]byte(text))
	if err != nil {
		return
	}
	again, err := c.Edited(Edit{})
	if err != nil {
		t.Fatal(err)
	}
	n, err := c.With(again)
	if err != nil {
		t.Fatalf("written again it is refused: %v\n%s", err, again)
	}
	was, err1 := c.Written()
	is, err2 := n.Written()
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if diff := was.Differences(is); len(diff) > 0 {
		t.Fatalf("written again, %q differ:\n%s", diff, again)
	}
}
