package hin_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/schedule/hin"
)

// The worked examples as the sources print them; where a source gives only the
// last four places, ABC12345 stands before them.
func TestDecode(t *testing.T) {
	tests := []struct {
		name, number string
		format       hin.Format
		model, built int
		month        time.Month
		source       string
	}{
		{"current", "ABC12345L495", hin.Current, 1995, 1994, time.December, "a builders' guide to 33 CFR 181.25, as quoted by owners"},
		{"current over the century", "ABC12345A900", hin.Current, 2000, 1999, time.January, "an owners' club's table"},
		{"straight year", "ABC123451272", hin.StraightYear, 0, 1972, time.December, "an owners' club's table"},
		{"model year", "ABC12345M73E", hin.ModelYear, 1973, 1972, time.December, "an owners' club's table; the calendar year is our arithmetic"},
		{"model year in spring", "ABC12345M82H", hin.ModelYear, 1982, 1982, time.March, "a sailing data base's forum"},
		{"current, spring 1985", "ABC12345C585", hin.Current, 1985, 1985, time.March, "a sailing data base's forum"},
		{"current, autumn 1984", "ABC12345K485", hin.Current, 1985, 1984, time.November, "a sailing data base's forum"},
		{"September is the letter I", "ABC12345I404", hin.Current, 2004, 2004, time.September, "33 CFR 181.25(b): I, O and Q are barred from the serial number only"},
		{"country before it", "US-ABC12345L495", hin.Current, 1995, 1994, time.December, "Coast Guard, HIN Validation Guidelines, June 2018, as quoted"},
		{"hyphens and blanks", "abc-12345 l495", hin.Current, 1995, 1994, time.December, "no source: how people write them down"},
		{"first month of model year", "ABC12345M80A", hin.ModelYear, 1980, 1979, time.August, "A is August, by the tables above"},
		{"last month of model year", "ABC12345M80L", hin.ModelYear, 1980, 1980, time.July, "L is July, by the tables above"},
		{"a trailer's number", "1ABCD23E4FG567890", hin.Other, 0, 0, 0, "from memory: 17 characters"},
		{"older than 1972", "4711", hin.Other, 0, 0, 0, "no number was asked for before November 1972"},
		{"none", "", hin.Other, 0, 0, 0, ""},
		{"month 13", "ABC123451372", hin.Other, 0, 0, 0, "months are 01 to 12"},
		{"model year's month past L", "ABC12345M73M", hin.Other, 0, 0, 0, "months are A to L"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := hin.Decode(tt.number)
			if n.Format != tt.format || n.ModelYear != tt.model || n.Built != tt.built || n.Month != tt.month {
				t.Errorf("%s reads as %v, model %d, built %v %d; want %v, model %d, built %v %d (%s)",
					tt.number, n.Format, n.ModelYear, n.Month, n.Built, tt.format, tt.model, tt.month, tt.built, tt.source)
			}
		})
	}
}

// What is no number of any era says nothing about which hull it is on.
func TestIdentity(t *testing.T) {
	for _, tt := range []struct{ written, want string }{
		{"us-abc 12345 l495", "ABC12345L495"},
		{"ABC123451272", "ABC123451272"},
		{"ABC12345M73E", "ABC12345M73E"},
		{"ABC12345M84L", "ABC12345M84L"}, // July 1984, the last month of that format
		{"ABC12345M85A", ""},             // August 1984
		{"", ""}, {"TBD", ""}, {"unknown", ""}, {"?", ""}, {"0", ""}, {"n/a", ""}, {"4711", ""},
		{"000000000000", ""}, {"111111111111", ""}, {"121212121212", ""}, {"XXXXXXXXXXXX", ""}, {"123456780183", ""},
		{"1ABCD23E4FG567890", ""},
	} {
		if got := hin.Identity(tt.written); got != tt.want {
			t.Errorf("%q is known again as %q, want %q", tt.written, got, tt.want)
		}
	}
}

func TestRemarks(t *testing.T) {
	tests := []struct{ name, number, want string }{
		{"none", "", ""},
		{"in order", "ABC12345L495", ""},
		{"straight year in order", "ABC123451272", ""},
		{"September", "ABC12345I404", ""},
		{"letter O in the serial", "ABC1O345L495", "perhaps it is 0"},
		{"letter I in the serial", "ABCI2345L495", "perhaps it is 1"},
		{"digit in the maker's code", "A8C12345L495", "perhaps it is the letter B"},
		{"letter for a digit of the year", "ABC12345L4O5", "perhaps ABC12345L405 is stamped, which would be December 2004, model year 2005"},
		{"8 for the letter of the month", "ABC123458495", "perhaps ABC12345B495 is stamped"},
		{"B for a digit", "ABC12345LB88", "perhaps ABC12345L888 is stamped"},
		{"too short", "ABC12345L49", "has 11 characters"},
		{"trailer", "1ABCD23E4FG567890", "17 is the length of a trailer's"},
		{"signs", "ABC12345L4.5", "other signs"},
		{"nothing near a date", "ABC12345XYXY", "states no month and year"},
		{"years apart", "ABC12345A590", "5 years apart"},
		{"built after its model year", "ABC12345A190", "built after its model year"},
		{"straight year too late", "ABC123450185", "ended in July 1984"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := strings.Join(hin.Remarks(tt.number), "; ")
			if (got == "") != (tt.want == "") || !strings.Contains(got, tt.want) {
				t.Errorf("%q: %q, want %q in it", tt.number, got, tt.want)
			}
		})
	}
}

func TestCompare(t *testing.T) {
	tests := []struct {
		name, number string
		year         int
		want         string
	}{
		{"the same", "ABC12345L495", 1995, ""},
		{"another", "ABC12345L495", 1994, "ABC12345L495 says model year 1995, the boat is down as 1994"},
		{"year unknown", "ABC12345L495", 0, ""},
		{"number unread", "4711", 1994, ""},
		{"straight year, next season's model", "ABC123451272", 1973, ""},
		{"straight year, far off", "ABC123451272", 1975, "ABC123451272 was built in December 1972, the boat is down as 1975"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := hin.Compare(tt.number, tt.year); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

// A number made by the rule reads back as it was made, and draws no remark.
func TestCurrentReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		maker := rapid.StringMatching(`[A-Z]{3}`).Draw(t, "maker")
		serial := rapid.StringMatching(`[A-HJ-NPR-Z0-9]{5}`).Draw(t, "serial")
		model := rapid.IntRange(1985, 2071).Draw(t, "model year")
		built := model - rapid.IntRange(0, 2).Draw(t, "years before")
		month := rapid.IntRange(1, 12).Draw(t, "month")
		two := func(n int) string { return string([]byte{byte('0' + n/10%10), byte('0' + n%10)}) }
		s := maker + serial + string(rune('A'+month-1)) + two(built)[1:] + two(model)
		n := hin.Decode(s)
		if n.Format != hin.Current || n.ModelYear != model || n.Built != built || int(n.Month) != month || n.Maker != maker || n.Serial != serial {
			t.Fatalf("%s reads as %+v; want %d-%d, model year %d", s, n, built, month, model)
		}
		if odd := hin.Remarks(s); len(odd) > 0 {
			t.Fatalf("%s: %q", s, odd)
		}
	})
}

// Whatever is written down, it can be read, and reading it twice is the same.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{"ABC12345L495", "US-ABC12345M73E", "ABC123451272", "", "Ünïcode12345", "us-", "FR-ABC12345L495", "A\x00B", "ABC12345LB88"} {
		f.Add(s, 1995)
	}
	f.Fuzz(func(t *testing.T, s string, year int) {
		n := hin.Decode(s)
		if again := hin.Decode(n.Text); again.Format != n.Format && hin.Plain(n.Text) == n.Text {
			t.Errorf("%q reads as %v, its plain form as %v", s, n.Format, again.Format)
		}
		if n.Format != hin.Other && (n.Built < 1962 || n.Built > 2076 || n.Month < 1 || n.Month > 12) {
			t.Errorf("%q was built in %v %d", s, n.Month, n.Built)
		}
		for _, r := range append(hin.Remarks(s), hin.Compare(s, year)) {
			if strings.HasSuffix(r, ".") {
				t.Errorf("remark %q ends in a full stop", r)
			}
		}
		if hin.LookAlike(hin.LookAlike(s)) != hin.LookAlike(s) && hin.Plain(hin.Plain(s)) == hin.Plain(s) {
			t.Errorf("%q: look-alikes are not stable", s)
		}
	})
}
