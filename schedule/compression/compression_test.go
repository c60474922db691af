package compression_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/compression"
)

// TestPublishedLimits works the limits that makers print, each at its edge. The
// sources stand with the rules.
func TestPublishedLimits(t *testing.T) {
	for _, c := range []struct {
		name string
		rule string
		psi  []float64
		want compression.Grade
		says string
	}{
		{"no maker's limit, even", "usual", []float64{150, 148, 152, 149}, compression.Good, "within the rule"},
		{"10% exactly is no note", "usual", []float64{180, 162}, compression.Good, "spread 10%"},
		{"just above 10 % is a note", "usual", []float64{180, 161}, compression.Note, "worth watching above 10%"},
		{"15% exactly is not yet act", "usual", []float64{150, 127.5}, compression.Note, "15%"},
		{"above 15 % is act", "usual", []float64{150, 127}, compression.Act, "the limit 15%"},
		{"DF140: 14 psi between any two holds", "difference-14", []float64{242, 230, 228, 240}, compression.Good, "within"},
		{"DF140: 15 psi does not", "difference-14", []float64{242, 227, 240, 240}, compression.Act, "difference is 15 psi, the limit 14"},
		{"50 of 1995: 15 psi holds", "difference-15", []float64{190, 175}, compression.Good, "within"},
		{"50 of 1995: more than 15 psi is a low cylinder", "difference-15", []float64{190, 174}, compression.Act, "difference is 16 psi"},
		{"40 of 2001: its example of 10 %", "spread-15", []float64{180, 162}, compression.Good, "spread 10%"},
		{"40 of 2001: 15 % holds but 127.5 psi is below its least", "spread-15", []float64{150, 127.5}, compression.Act, "lowest is 127.5 psi, the minimum is 135"},
		{"gasoline sterndrive: its example of 150 and 105", "share-70", []float64{150, 105}, compression.Good, "within"},
		{"gasoline sterndrive: 104 of 150 is below 70 %", "share-70", []float64{150, 104}, compression.Act, "69.3% of the highest"},
		{"gasoline sterndrive: even but below 100 psi", "share-70", []float64{99, 98}, compression.Act, "the minimum is 100"},
		{"a rule nobody knows is the usual one", "of the neighbour", []float64{150, 120}, compression.Act, "the limit 15%"},
		{"one cylinder has no spread", "usual", []float64{150}, compression.Good, "spread 0%"},
		{"a dead engine is even, and no good", "usual", []float64{0, 0}, compression.Act, "no cylinder has any pressure"},
		{"nothing measured", "usual", nil, compression.Good, "Nothing was measured"},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := compression.Judge(c.psi, compression.Find(c.rule))
			if v.Grade != c.want || !strings.Contains(v.String(), c.says) {
				t.Errorf("grade %v, %q; want grade %v and %q", v.Grade, v, c.want, c.says)
			}
		})
	}
}

func TestEveryRuleHasItsSource(t *testing.T) {
	rules := compression.Rules()
	if len(rules) < 5 {
		t.Fatalf("%d rules; want the published ones", len(rules))
	}
	for _, r := range rules {
		if r.Source == "" || r.Title == "" || compression.Find(r.Code).Code != r.Code {
			t.Errorf("rule %q: want a title, a source and a code of its own", r.Code)
		}
	}
}

// TestLowestNamed says which cylinder is low, counted from 1.
func TestLowestNamed(t *testing.T) {
	v := compression.Judge([]float64{150, 149, 90, 151}, compression.Find("usual"))
	if v.LowestAt != 3 || !strings.Contains(v.String(), "cylinder 3") {
		t.Errorf("lowest at %d, %q", v.LowestAt, v)
	}
}

// TestOrderDoesNotMatter: the same cylinders in any order get the same grade,
// and more pressure everywhere by the same factor never makes it worse.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		psi := rapid.SliceOfN(rapid.Float64Range(1, 400), 1, 8).Draw(t, "psi")
		rule := rapid.SampledFrom(compression.Rules()).Draw(t, "rule")
		rule.MostDifference = 0 // the one limit that does not scale
		v := compression.Judge(psi, rule)
		turned := slices.Clone(psi)
		slices.Sort(turned)
		if got := compression.Judge(turned, rule); got.Grade != v.Grade {
			t.Fatalf("sorted: grade %v, want %v", got.Grade, v.Grade)
		}
		scaled := slices.Clone(psi)
		for i := range scaled {
			scaled[i] *= 2
		}
		if got := compression.Judge(scaled, rule); got.Grade > v.Grade {
			t.Fatalf("at twice the pressure: grade %v, was %v", got.Grade, v.Grade)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"", "150 148 152 149", "150,148;152/149", "1e3", "-1", "NaN", "150 Inf", "٣", strings.Repeat("1 ", 20)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		psi, err := compression.Parse(s)
		if err != nil {
			if psi != nil {
				t.Errorf("%q: figures beside an error", s)
			}
			return
		}
		for _, p := range psi {
			if !(p >= 0 && p <= 1000) {
				t.Errorf("%q: pressure %g", s, p)
			}
		}
		_ = compression.Judge(psi, compression.Find("usual")).String()
	})
}
