package words_test

import (
	"fmt"
	"testing"

	"bellbuoy/schedule/words"
)

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
	fmt.Println(words.Count(2, "visit")+",", "about", words.Format{}.WholeMoney(130450))
	fmt.Println(words.UpperFirst("winterization"), "and", words.LowerFirst("Engine oil and filter"))
	// Output:
	// 2 visits, about $1,305
	// Winterization and engine oil and filter
}
