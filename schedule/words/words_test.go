package words_test

import (
	"fmt"
	"testing"

	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
)

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
			if got := words.Money(c.sign, c.cents); got != c.exact {
				t.Errorf("Money: %q, want %q", got, c.exact)
			}
			if got := words.WholeMoney(c.sign, c.cents); got != c.whole {
				t.Errorf("WholeMoney: %q, want %q", got, c.whole)
			}
		})
	}
}

func TestCount(t *testing.T) {
	for _, c := range []struct {
		n           int
		thing, want string
	}{
		{0, "row", "0 rows"}, {1, "row", "1 row"}, {3, "row", "3 rows"},
		{2, "entry", "2 entries"}, {2, "day", "2 days"}, {2, "batch", "2 batches"}, {2, "address", "2 addresses"},
	} {
		if got := words.Count(c.n, c.thing); got != c.want {
			t.Errorf("Count(%d, %q) = %q, want %q", c.n, c.thing, got, c.want)
		}
	}
}

func TestFirstLetter(t *testing.T) {
	for _, c := range []struct{ in, lower, upper string }{
		{"", "", ""},
		{"Engine oil", "engine oil", "Engine oil"},
		{"engine oil", "engine oil", "Engine oil"},
		{"CO alarm", "CO alarm", "CO alarm"},
		{"Élan's engine", "élan's engine", "Élan's engine"},
		{"ñandú", "ñandú", "Ñandú"},
		{"A", "a", "A"},
		{"\xff broken", "\xff broken", "\xff broken"},
	} {
		if got := words.LowerFirst(c.in); got != c.lower {
			t.Errorf("LowerFirst(%q) = %q, want %q", c.in, got, c.lower)
		}
		if got := words.UpperFirst(c.in); got != c.upper {
			t.Errorf("UpperFirst(%q) = %q, want %q", c.in, got, c.upper)
		}
	}
}

func TestOneLine(t *testing.T) {
	for in, want := range map[string]string{
		"": "", " \t\r\n": "", "Heron": "Heron", " Bcc:\r\n x@y.example ": "Bcc: x@y.example", "a\u2028b\vc": "a b c", "Br\xe4nn": "Br\uFFFDnn",
	} {
		if got := words.OneLine(in); got != want {
			t.Errorf("OneLine(%q) = %q, want %q", in, got, want)
		}
	}
}

func Example() {
	fmt.Println(words.Count(2, "visit")+",", "about", words.WholeMoney("$", 130450))
	fmt.Println(words.UpperFirst("winterization"), "and", words.LowerFirst("Engine oil and filter"))
	// Output:
	// 2 visits, about $1,305
	// Winterization and engine oil and filter
}
