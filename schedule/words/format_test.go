package words_test

import (
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
)

// locales are the formats under test, by the name that the CLDR has for them.
var locales = map[string]words.Choices{
	"en-US": {}, "en-CA": {Country: "CA"}, "fr-CA": {Country: "CA", Language: "fr"}, "en-GB": {Country: "GB"},
	"en-IE": {Country: "IE"}, "en-AU": {Country: "AU"}, "en-NZ": {Country: "NZ"}, "en-DE": {Country: "DE"},
	"en-FR": {Country: "FR"}, "fr-FR": {Country: "FR", Language: "fr"},
}

func formatOf(t *testing.T, c words.Choices) words.Format {
	t.Helper()
	f, err := words.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// plain shows the spaces that do not break as they are typed.
func plain(s string) string { return strings.NewReplacer("\u00a0", "~", "\u202f", "_").Replace(s) }

// TestPublishedPatterns has what the Unicode CLDR, release 48 (ICU 78.2), writes for
// each locale, by the name of its pattern. A different text in braces is ours:
// "Sep" and not "Sept" in every English, a comma after every English weekday, a plain
// space before AM and PM where the CLDR has a narrow one.
func TestPublishedPatterns(t *testing.T) {
	day := civil.Of(2026, time.October, 5) // a Monday
	patterns := []struct {
		name  string
		write func(words.Format) string
	}{
		{"date, long", func(f words.Format) string { return f.Date(day) }},
		{"date, medium", func(f words.Format) string { return f.ShortDate(day) }},
		{"date, full", func(f words.Format) string { return f.WeekdayDate(day) }},
		{"MMMd", func(f words.Format) string { return f.ShortMonthDay(day) }},
		{"MMMMd", func(f words.Format) string { return f.MonthDay(day) }},
		{"MMMEd", func(f words.Format) string { return f.On(f.ShortWeekday(day), f.ShortMonthDay(day)) }},
		{"time, short", func(f words.Format) string { return f.Clock(14*60 + 30) }},
		{"time, short, morning", func(f words.Format) string { return f.Clock(9 * 60) }},
		{"decimal", func(f words.Format) string { return f.Number(-1234.5, 1) }},
	}
	for locale, want := range map[string][]string{
		"en-US": {"October 5, 2026", "Oct 5, 2026", "Monday, October 5, 2026", "Oct 5", "October 5", "Mon, Oct 5", "2:30 PM", "9:00 AM", "-1,234.5"},
		"en-CA": {"October 5, 2026", "Oct 5, 2026", "Monday, October 5, 2026", "Oct 5", "October 5", "Mon, Oct 5", "2:30 p.m.", "9:00 a.m.", "-1,234.5"},
		"fr-CA": {"5 octobre 2026", "5 oct. 2026", "lundi 5 octobre 2026", "5 oct.", "5 octobre", "lun. 5 oct.", "14~h~30", "09~h~00", "-1~234,5"},
		"en-GB": {"5 October 2026", "5 Oct 2026", "Monday, 5 October 2026", "5 Oct", "5 October", "Mon, 5 Oct", "14:30", "09:00", "-1,234.5"},
		"en-IE": {"5 October 2026", "5 Oct 2026", "Monday, 5 October 2026", "5 Oct", "5 October", "Mon, 5 Oct", "14:30", "09:00", "-1,234.5"},
		"en-AU": {"5 October 2026", "5 Oct 2026", "Monday, 5 October 2026", "5 Oct", "5 October", "Mon, 5 Oct", "2:30 pm", "9:00 am", "-1,234.5"},
		"en-NZ": {"5 October 2026", "5 Oct 2026", "Monday, 5 October 2026", "5 Oct", "5 October", "Mon, 5 Oct", "2:30 pm", "9:00 am", "-1,234.5"},
		"en-DE": {"5 October 2026", "5 Oct 2026", "Monday, 5 October 2026", "5 Oct", "5 October", "Mon, 5 Oct", "14:30", "09:00", "-1.234,5"},
		"en-FR": {"5 October 2026", "5 Oct 2026", "Monday, 5 October 2026", "5 Oct", "5 October", "Mon, 5 Oct", "14:30", "09:00", "-1_234,5"},
		"fr-FR": {"5 octobre 2026", "5 oct. 2026", "lundi 5 octobre 2026", "5 oct.", "5 octobre", "lun. 5 oct.", "14:30", "09:00", "-1_234,5"},
	} {
		f := formatOf(t, locales[locale])
		for i, p := range patterns {
			if got := plain(p.write(f)); got != want[i] {
				t.Errorf("%s, %s: %q, want %q", locale, p.name, got, want[i])
			}
		}
	}
}

func TestFormatWithoutSettings(t *testing.T) {
	usual, none := formatOf(t, words.Choices{}), words.Format{}
	day := civil.Of(2027, time.February, 28)
	for _, write := range []func(words.Format) string{
		func(f words.Format) string { return f.WeekdayDate(day) },
		func(f words.Format) string { return f.Clock(0) },
		func(f words.Format) string { return f.Clock(12 * 60) },
		func(f words.Format) string { return f.Money(-123450) },
		func(f words.Format) string { return f.Temperature(-40) },
		func(f words.Format) string { return f.Length(24) },
		func(f words.Format) string { return f.Quantity(4.5, "l") },
	} {
		if write(usual) != write(none) {
			t.Errorf("%q without settings, %q by those of the United States", write(none), write(usual))
		}
	}
}

// TestChoices puts one choice at a time over what the United States do.
func TestChoices(t *testing.T) {
	day := civil.Of(2026, time.March, 4)
	for _, c := range []struct {
		name   string
		choice words.Choices
		write  func(words.Format) string
		want   string
	}{
		{"day first", words.Choices{DateOrder: "dmy"}, func(f words.Format) string { return f.WeekdayDate(day) }, "Wednesday, 4 March 2026"},
		{"year first", words.Choices{DateOrder: "ymd"}, func(f words.Format) string { return f.ShortDate(day) }, "2026-03-04"},
		{"year first, without it", words.Choices{DateOrder: "ymd"}, func(f words.Format) string { return f.ShortMonthDay(day) }, "03-04"},
		{"24 hours", words.Choices{Clock: "24"}, func(f words.Format) string { return f.Clock(9*60 + 5) }, "09:05"},
		{"12 hours abroad", words.Choices{Country: "GB", Clock: "12"}, func(f words.Format) string { return f.Clock(12*60 + 5) }, "12:05 pm"},
		{"24 hours in French stay French", words.Choices{Country: "CA", Language: "fr", Clock: "24"}, func(f words.Format) string { return f.Clock(0) }, "00~h~00"},
		{"decimal comma", words.Choices{Decimal: ","}, func(f words.Format) string { return f.Money(123450) }, "$1.234,50"},
		{"Celsius", words.Choices{Temperature: "C"}, func(f words.Format) string { return f.Temperature(-22) }, "-2.2°C"},
		{"Fahrenheit in Canada", words.Choices{Country: "CA", Temperature: "F"}, func(f words.Format) string { return f.Temperature(-22) }, "28~°F"},
		{"meters", words.Choices{Length: "m"}, func(f words.Format) string { return f.Length(24) }, "7.3~m"},
		{"feet in Britain", words.Choices{Country: "GB", Length: "ft"}, func(f words.Format) string { return f.Length(24) }, "24~ft"},
		{"liters", words.Choices{Volume: "l"}, func(f words.Format) string { return f.Quantity(4.5, "l") }, "4.5~l"},
		{"pounds", words.Choices{}, func(f words.Format) string { return f.Quantity(0.2, "kg") }, "0.44~lb"},
		{"kilograms", words.Choices{Volume: "l"}, func(f words.Format) string { return f.Quantity(0.2, "kg") }, "0.2~kg"},
		{"pounds in Canada", words.Choices{Country: "CA"}, func(f words.Format) string { return f.Quantity(2, "lb") }, "0.91~kg"},
		{"the first in French", words.Choices{Country: "CA", Language: "fr"}, func(f words.Format) string { return f.ShortDate(civil.Of(2026, 10, 1)) }, "1er oct. 2026"},
		{"another currency", words.Choices{Currency: "CHF"}, func(f words.Format) string { return f.Money(5) }, "CHF 0.05"},
	} {
		if got := plain(c.write(formatOf(t, c.choice))); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestAmountsAndMeasures(t *testing.T) {
	for _, c := range []struct {
		locale, money, whole, hours, low, long, oil, hose, pieces string
	}{
		{"en-US", "-$1,234,567.50", "-$1,234,568", "1234.5", "25°F", "24~ft", "1.19~gal", "3.28~ft", "2"},
		{"en-CA", "-$1,234,567.50", "-$1,234,568", "1234.5", "-4~°C", "24~ft", "4.5~l", "3.28~ft", "2"},
		{"fr-CA", "-1~234~567,50~$", "-1~234~568~$", "1234,5", "-4~°C", "24~pi", "4,5~l", "3,28~pi", "2"},
		{"en-GB", "-£1,234,567.50", "-£1,234,568", "1234.5", "-4°C", "7.3~m", "4.5~l", "1~m", "2"},
		{"en-DE", "-€1.234.567,50", "-€1.234.568", "1234,5", "-4°C", "7,3~m", "4,5~l", "1~m", "2"},
		{"fr-FR", "-1_234_567,50~€", "-1_234_568~€", "1234,5", "-4~°C", "7,3~m", "4,5~l", "1~m", "2"},
	} {
		f := formatOf(t, locales[c.locale])
		for got, want := range map[string]string{
			f.Money(-123456750): c.money, f.WholeMoney(-123456750): c.whole, f.Hours(12345): c.hours, f.Temperature(-40): c.low,
			f.Length(24): c.long, f.Quantity(4.5, "l"): c.oil, f.Quantity(1, "m"): c.hose, f.Quantity(2, "piece"): c.pieces,
		} {
			if plain(got) != want {
				t.Errorf("%s: %q, want %q", c.locale, plain(got), want)
			}
		}
	}
}

func TestMoney(t *testing.T) {
	for _, c := range []struct {
		name, sign   string
		cents        measure.Cents
		exact, whole string
	}{
		{"nothing", "$", 0, "$0.00", "$0"},
		{"cents below ten", "$", 1205, "$12.05", "$12"},
		{"half a unit goes up", "$", 1250, "$12.50", "$13"},
		{"thousands are set apart", "$", 123456789, "$1,234,567.89", "$1,234,568"},
		{"a refund", "$", -2000, "-$20.00", "-$20"},
		{"less than half a unit back has no minus", "$", -40, "-$0.40", "$0"},
		{"a sign of letters is set apart", "CHF", 123450, "CHF 1,234.50", "CHF 1,235"},
		{"a letter and a sign stay together", "C$", 500, "C$5.00", "C$5"},
		{"one letter beyond ASCII", "€", 500, "€5.00", "€5"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := formatOf(t, words.Choices{Currency: c.sign})
			if got := f.Money(c.cents); got != c.exact {
				t.Errorf("Money: %q, want %q", got, c.exact)
			}
			if got := f.WholeMoney(c.cents); got != c.whole {
				t.Errorf("WholeMoney: %q, want %q", got, c.whole)
			}
		})
	}
}

func TestChoicesThatThereAreNot(t *testing.T) {
	_, err := words.New(words.Choices{Country: "XX", Language: "xx", DateOrder: "ydm", Clock: "13", Decimal: "'", Temperature: "K", Length: "yd", Volume: "pt"})
	for _, want := range []string{"country \"XX\": want one of AU, CA, DE, FR, GB, IE, NZ, US", "language", "date_order", "clock", "decimal_sign", "temperature", "length", "volume \"pt\": want one of gal, l"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v; want %q in it", err, want)
		}
	}
}

func TestAnotherLanguage(t *testing.T) {
	f := formatOf(t, words.Choices{Country: "CA", Clock: "12"})
	day := civil.Of(2026, time.August, 1)
	if got := f.In(words.French).WeekdayDate(day) + ", " + f.In(words.French).Clock(9*60); got != "samedi 1er août 2026, 9:00 a.m." {
		t.Error(got)
	}
	if got := f.In(words.French).In(words.English).Date(day); got != "August 1, 2026" {
		t.Error(got)
	}
}
