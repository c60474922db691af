package mapping_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

var today = civil.Of(2026, time.November, 25)

func TestParseDay(t *testing.T) {
	tests := []struct {
		name, text, order, want string // want "" is an error
		kind                    sheet.Kind
	}{
		{"month first", "3/14/22", "mdy", "2022-03-14", sheet.Text},
		{"day first", "14.3.2022", "dmy", "2022-03-14", sheet.Text},
		{"the same text, two orders: one", "3/4/22", "mdy", "2022-03-04", sheet.Text},
		{"the same text, two orders: other", "3/4/22", "dmy", "2022-04-03", sheet.Text},
		{"does not fit the order", "14/3/22", "mdy", "", sheet.Text},
		{"ISO in any order", "2022-03-04", "dmy", "2022-03-04", sheet.Text},
		{"year in front with slashes", "2022/3/4", "mdy", "2022-03-04", sheet.Text},
		{"ISO basic", "20220304", "dmy", "2022-03-04", sheet.Text},
		{"a month's name decides", "4-Mar-22", "mdy", "2022-03-04", sheet.Text},
		{"name in front", "Mar 4, 2022", "dmy", "2022-03-04", sheet.Text},
		{"Sept", "4 Sept 2022", "mdy", "2022-09-04", sheet.Text},
		{"run together", "4Mar22", "mdy", "2022-03-04", sheet.Text},
		{"ordinal", "March 3rd, 2022", "mdy", "2022-03-03", sheet.Text},
		{"weekday", "Fri 3/4/22", "mdy", "2022-03-04", sheet.Text},
		{"time behind", "3/4/2022 9:30 AM", "mdy", "2022-03-04", sheet.Text},
		{"instant", "2022-03-04T09:30:00Z", "mdy", "2022-03-04", sheet.Text},
		{"leap day", "2/29/24", "mdy", "2024-02-29", sheet.Text},
		{"no leap day", "2/29/23", "mdy", "", sheet.Text},
		{"last century", "6/1/87", "mdy", "1987-06-01", sheet.Text},
		{"a workbook's day", "2022-03-04", "", "2022-03-04", sheet.Day},
		{"a day number, admitted", "44624", "mdy excel", "2022-03-04", sheet.Number},
		{"a day number in text, admitted", "44624", "mdy excel", "2022-03-04", sheet.Text},
		{"a day number with a time", "44624.75", "mdy excel", "2022-03-04", sheet.Number},
		{"a day number, not admitted", "44624", "mdy", "", sheet.Number},
		{"order unknown", "3/4/22", "", "", sheet.Text},
		{"an order for slashes", "3/4/22", "/ mdy . dmy", "2022-03-04", sheet.Text},
		{"another for points", "3.4.22", "/ mdy . dmy", "2022-04-03", sheet.Text},
		{"none for hyphens", "3-4-22", "/ mdy . dmy", "", sheet.Text},
		{"ISO beside slashes", "2022-03-04", "/ mdy . dmy - either", "2022-03-04", sheet.Text},
		{"a month's name beside slashes", "4 March 2022", "/ mdy . dmy", "2022-03-04", sheet.Text},
		{"fits both orders", "3/4/22", "either", "", sheet.Text},
		{"fits one order", "13/4/22", "either", "2022-04-13", sheet.Text},
		{"fits the other", "4/13/22", "either excel", "2022-04-13", sheet.Text},
		{"the same in both", "4/4/22", "either", "2022-04-04", sheet.Text},
		{"no day", "Mar 2022", "mdy", "", sheet.Text},
		{"year of one digit", "3/4/2", "mdy", "", sheet.Text},
		{"year of three digits", "3/4/022", "mdy", "", sheet.Text},
		{"out of bounds", "3/4/1822", "mdy", "", sheet.Text},
		{"words", "last spring", "mdy", "", sheet.Text},
		{"month's name last", "2022 4 Mar", "ymd", "2022-03-04", sheet.Text},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := mapping.ParseDay(sheet.Cell{Text: tt.text, Kind: tt.kind}, tt.order, today)
			if (err == nil) != (tt.want != "") || err == nil && got.String() != tt.want {
				t.Errorf("%q in order %q is %v, %v; want %q", tt.text, tt.order, got, err, tt.want)
			}
			if err != nil && !strings.Contains(err.Error(), tt.text) {
				t.Errorf("error %q does not quote %q", err, tt.text)
			}
		})
	}
}

func TestParseMoney(t *testing.T) {
	tests := []struct {
		name, text, style, want string
		kind                    sheet.Kind
	}{
		{"plain", "1234.5", "1234.50", "1234.50", sheet.Text},
		{"thousands", "$1,234.50", "1,234.50", "1234.50", sheet.Text},
		{"the same as European", "1.234,50 €", "1.234,50", "1234.50", sheet.Text},
		{"blank between thousands", "1\u00a0234,50", "1 234,50", "1234.50", sheet.Text},
		{"apostrophe", "CHF 1’234.50", "1'234.50", "1234.50", sheet.Text},
		{"abbreviated currency", "Fr. 12.50", "1,234.50", "12.50", sheet.Text},
		{"brackets", "(12.00)", "1,234.50", "-12.00", sheet.Text},
		{"brackets with a sign", "($12.00)", "1,234.50", "-12.00", sheet.Text},
		{"minus before the sign", "-$12", "1,234.50", "-12.00", sheet.Text},
		{"minus behind the sign", "$-12", "1,234.50", "-12.00", sheet.Text},
		{"minus behind", "12.00-", "1,234.50", "-12.00", sheet.Text},
		{"typographic minus", "−12.00", "1,234.50", "-12.00", sheet.Text},
		{"credit", "12.00 CR", "1,234.50", "-12.00", sheet.Text},
		{"cents only", ".50", "1234.50", "0.50", sheet.Text},
		{"grouped wrongly", "1,23.50", "1,234.50", "", sheet.Text},
		{"comma in the plain style", "1,234.50", "1234.50", "", sheet.Text},
		{"other style", "1.234,50", "1,234.50", "", sheet.Text},
		{"three decimals", "1.234", "1234.50", "", sheet.Text},
		{"two numbers", "12 + 13", "1234.50", "", sheet.Text},
		{"a workbook's number, whatever the style", "1234.5", "1.234,50", "1234.50", sheet.Number},
		{"a workbook's fraction", "33.333333333", "1,234.50", "33.33", sheet.Number},
		{"words", "free", "1,234.50", "", sheet.Text},
		{"style unknown", "12", "", "", sheet.Text},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := mapping.ParseMoney(sheet.Cell{Text: tt.text, Kind: tt.kind}, tt.style)
			if (err == nil) != (tt.want != "") || err == nil && got.String() != tt.want {
				t.Errorf("%q in style %q is %v, %v; want %q", tt.text, tt.style, got, err, tt.want)
			}
		})
	}
}

func TestParseHours(t *testing.T) {
	tests := []struct {
		name, text, style, want string
		estimate                bool
	}{
		{"plain", "188", "1,234.50", "188", false},
		{"unit behind", "1,234.5 hrs", "1,234.50", "1234.5", false},
		{"label before", "hrs: 188", "1,234.50", "188", false},
		{"European", "1.234,5 Std.", "1.234,50", "1234.5", false},
		{"two decimals", "188.52", "1,234.50", "188.5", false},
		{"about", "about 190 h", "1,234.50", "190", true},
		{"tilde", "~190", "1,234.50", "190", true},
		{"question mark", "190?", "1,234.50", "190", true},
		{"two meters", "188/190", "1,234.50", "", false},
		{"two numbers", "188 port, 190 starboard", "1,234.50", "", false},
		{"negative", "-5", "1,234.50", "", false},
		{"too many", "123456", "1,234.50", "", false},
		{"none", "none read", "1,234.50", "", false},
		{"thousands in another style", "1,234", "1234,50", "", false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, estimate, err := mapping.ParseHours(sheet.Cell{Text: tt.text}, tt.style)
			if (err == nil) != (tt.want != "") || err == nil && (got.String() != tt.want || estimate != tt.estimate) {
				t.Errorf("%q is %v, estimate %v, %v; want %q, %v", tt.text, got, estimate, err, tt.want, tt.estimate)
			}
		})
	}
}

func TestTexts(t *testing.T) {
	for _, tt := range [][2]string{
		{"(212) 555-0111", "+1 212-555-0111"}, {"212.555.0111", "+1 212-555-0111"}, {"+44 20 7946 0018", "+44 20 7946 0018"},
		{"212-555-0111 / 212-555-0112", "+1 212-555-0111 / +1 212-555-0112"}, {"555-0111", ""}, {"call after 6", ""}, {"", ""},
	} {
		got, ok := mapping.Phone(tt[0], "US")
		if ok != (tt[1] != "") || ok && got != tt[1] {
			t.Errorf("Phone(%q) = %q, %v; want %q", tt[0], got, ok, tt[1])
		}
	}
	for _, tt := range [][2]string{
		{"Quillfeather, Jørn", "Jørn Quillfeather"}, {"Weir, Björn & Ada", "Björn & Ada Weir"}, {"Uli Weir", "Uli Weir"}, {"Weir, Uli, Jr.", "Weir, Uli, Jr."}, {"Weir,", "Weir,"},
	} {
		if got := mapping.TurnName(tt[0]); got != tt[1] {
			t.Errorf("TurnName(%q) = %q, want %q", tt[0], got, tt[1])
		}
	}
	for _, tt := range []struct {
		text string
		want float64
	}{{"21", 21}, {"21.5 ft", 21.5}, {`21'6"`, 21.5}, {"21 ft 6 in", 21.5}, {"21′ 6″", 21.5}, {"6.5 m", 21.33}, {"6,5 m", 21.33}, {`21'13"`, -1}, {"long", -1}, {"-3", -1}} {
		if got, err := mapping.Feet(tt.text); (err == nil) != (tt.want >= 0) || err == nil && got != tt.want {
			t.Errorf("Feet(%q) = %v, %v; want %v", tt.text, got, err, tt.want)
		}
	}
}

// A day written in an order reads back in that order.
func TestDaysReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := civil.Of(1990, 1, 1) + civil.Day(rapid.IntRange(0, 13000).Draw(t, "day"))
		y, m, dd := d.Date()
		part := map[byte]string{'y': civil.Day.String(d)[:4], 'm': itoa(int(m)), 'd': itoa(dd)}
		order := rapid.SampledFrom(mapping.DateOrders()).Draw(t, "order")
		sep := rapid.SampledFrom([]string{"/", "-", ".", " "}).Draw(t, "separator")
		text := part[order[0]] + sep + part[order[1]] + sep + part[order[2]]
		if got, err := mapping.ParseDay(sheet.Cell{Text: text}, order, today); err != nil || got != d {
			t.Fatalf("%s (%d-%d-%d) in %s reads as %v, %v", text, y, m, dd, order, got, err)
		}
	})
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + itoa(n%10)
}

func FuzzParseDay(f *testing.F) {
	for _, s := range []string{"3/14/22", "4-Mar-22", "44624", "2022-03-04T09:30Z", "Fri, 3rd of May 2022", "1e9", "٣/٤/٢٢", "::", " T:"} {
		f.Add(s, byte(0), uint8(0))
	}
	f.Fuzz(func(t *testing.T, s string, kind byte, order uint8) {
		orders := append(mapping.DateOrders(), "mdy excel", "dmy excel", "", "x", "either", "/ mdy . dmy", "- either / dmy excel")
		d, err := mapping.ParseDay(sheet.Cell{Text: s, Kind: sheet.Kind(kind % 3)}, orders[int(order)%len(orders)], today)
		if err == nil && (d.Year() < 1950 || d.Year() > today.Year()+60) {
			t.Errorf("%q is %v", s, d)
		}
	})
}

func FuzzParseMoney(f *testing.F) {
	for _, s := range []string{"$1,234.50", "(12.00)", "12.00 CR", "Fr. 12.50", "1’234.50", "1e309", "NaN", "--1", ".", "999999999999.99"} {
		f.Add(s, byte(0), uint8(1))
	}
	f.Fuzz(func(t *testing.T, s string, kind byte, style uint8) {
		names := append(mapping.NumberStyles(), "")
		c := sheet.Cell{Text: s, Kind: sheet.Kind(kind % 2)}
		v, err := mapping.ParseMoney(c, names[int(style)%len(names)])
		if err != nil {
			return
		}
		if again, err := mapping.ParseMoney(sheet.Cell{Text: v.String()}, "1234.50"); err != nil || again != v {
			t.Errorf("%q is %v, which reads back as %v, %v", s, v, again, err)
		}
	})
}

func FuzzParseHours(f *testing.F) {
	for _, s := range []string{"1,234.5 hrs", "hrs: 188", "~190", "188/190", "99999.9", "1 2", "0,0", "½"} {
		f.Add(s, byte(0), uint8(1))
	}
	f.Fuzz(func(t *testing.T, s string, kind byte, style uint8) {
		names := append(mapping.NumberStyles(), "")
		h, _, err := mapping.ParseHours(sheet.Cell{Text: s, Kind: sheet.Kind(kind % 2)}, names[int(style)%len(names)])
		if err == nil && (h < 0 || h > 999999) {
			t.Errorf("%q is %v", s, h)
		}
	})
}
