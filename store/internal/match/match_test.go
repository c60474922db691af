package match

import "testing"

func TestOneLetterApart(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"heron", "heron", false}, {"heron", "haron", true}, {"heron", "hern", true}, {"hern", "heron", true}, {"heron", "herron", true},
		{"heron", "hreon", true}, {"heron", "herno", true}, {"heron", "hroen", false}, {"heron", "haran", false}, {"heron", "her", false},
		{"trần", "tran", true}, {"ab", "ba", true}, {"aab", "aba", true}, {"abab", "baba", false},
	} {
		if got := OneLetterApart(c.a, c.b); got != c.want {
			t.Errorf("%s, %s: %v", c.a, c.b, got)
		}
	}
}
