package returns_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/returns"
)

// sixMP is the 6-MP arm of the leukemia trial of Freireich et al. (Blood 1963;
// 21: 699-716), weeks in remission, as survival textbooks print it and public
// R notebooks carry it.
func sixMP() []returns.Spell {
	weeks := []struct {
		at    int
		event bool
	}{
		{6, true}, {6, true}, {6, true}, {6, false}, {7, true}, {9, false}, {10, true}, {10, false}, {11, false},
		{13, true}, {16, true}, {17, false}, {19, false}, {20, false}, {22, true}, {23, true}, {25, false},
		{32, false}, {32, false}, {34, false}, {35, false},
	}
	spells := make([]returns.Spell, len(weeks))
	for i, w := range weeks {
		spells[i] = returns.Spell{Days: w.at, Event: w.event}
	}
	return spells
}

// TestFreireich compares with the table in Kleinbaum and Klein, "Survival
// Analysis", chapter 2, and Collett, "Modelling Survival Data in Medical
// Research", chapter 2 (the pages not seen); checked since
// against what R's survfit prints for the same data in two public notebooks, and
// recomputed.
func TestFreireich(t *testing.T) {
	want := []struct {
		week, atRisk, events int
		survival, se         float64
	}{
		{6, 21, 3, 0.8571, 0.0764},
		{7, 17, 1, 0.8067, 0.0869},
		{10, 15, 1, 0.7529, 0.0963},
		{13, 12, 1, 0.6902, 0.1068},
		{16, 11, 1, 0.6275, 0.1141},
		{22, 7, 1, 0.5378, 0.1282},
		{23, 6, 1, 0.4482, 0.1346},
	}
	c := returns.Survival(sixMP(), 0.95)
	if c.N != 21 || c.Events != 9 || len(c.Steps) != len(want) {
		t.Fatalf("%d spells, %d events, %d steps; want 21, 9, %d", c.N, c.Events, len(c.Steps), len(want))
	}
	for i, w := range want {
		got := c.Steps[i]
		if got.Days != w.week || got.AtRisk != w.atRisk || got.Events != w.events {
			t.Errorf("step %d: week %d, %d at risk, %d events; want %d, %d, %d", i, got.Days, got.AtRisk, got.Events, w.week, w.atRisk, w.events)
		}
		near(t, "survival", got.Survival, w.survival, 0.00005)
		near(t, "standard error", got.SE, w.se, 0.00005)
	}
	if m, ok := c.Median(); !ok || m != 23 {
		t.Errorf("median %d, %v; want 23 weeks", m, ok)
	}
}

// TestLogLogBand is worked by hand for week 10: log S = -0.28386, Greenwood's
// sum = (0.0963/0.7529)^2, so the exponent is 1.96 x 0.12790 / 0.28386 = 0.8831
// and the band 0.7529^exp(+-0.8831). It is also what R's survfit prints with
// conf.type "log-log" for these data: 0.503 to 0.889
// (recomputed; the print was not seen).
func TestLogLogBand(t *testing.T) {
	c := returns.Survival(sixMP(), 0.95)
	st := c.At(12)
	near(t, "low", st.Low, 0.503, 0.0006)
	near(t, "high", st.High, 0.889, 0.0006)
}

func TestMedian(t *testing.T) {
	tests := []struct {
		name   string
		spells []returns.Spell
		median int
		ok     bool
	}{
		{"nobody", nil, 0, false},
		{"nobody came", []returns.Spell{{Days: 5}, {Days: 9}}, 0, false},
		{"one came", []returns.Spell{{Days: 5, Event: true}}, 5, true},
		{"exactly half", []returns.Spell{{Days: 3, Event: true}, {Days: 4, Event: true}, {Days: 9}, {Days: 9}}, 4, true},
		{"two in five", []returns.Spell{{Days: 3, Event: true}, {Days: 4, Event: true}, {Days: 9}, {Days: 9}, {Days: 9}}, 0, false},
		{"half by thirds", []returns.Spell{{Days: 1, Event: true}, {Days: 2, Event: true}, {Days: 3, Event: true}, {Days: 4}, {Days: 4}, {Days: 4}}, 3, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := returns.Survival(tt.spells, 0.95)
			if m, ok := c.Median(); m != tt.median || ok != tt.ok {
				t.Errorf("median %d, %v; want %d, %v", m, ok, tt.median, tt.ok)
			}
		})
	}
}

// TestAllCame: where everybody has had the event the curve ends at 0 and the
// band says nothing more.
func TestAllCame(t *testing.T) {
	c := returns.Survival([]returns.Spell{{Days: 1, Event: true}, {Days: 2, Event: true}}, 0.95)
	last := c.Steps[1]
	if last.Survival != 0 || last.SE != 0 || last.Low != 0 || last.High != c.Steps[0].High {
		t.Errorf("last step %+v", last)
	}
}

// TestSurvivalProperties: without censoring the estimate is the plain share
// left; with it the curve only falls, and the band holds the curve.
func TestSurvivalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plain := rapid.Bool().Draw(t, "plain")
		spells := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) returns.Spell {
			return returns.Spell{Days: rapid.IntRange(0, 40).Draw(t, "days"), Event: plain || rapid.Bool().Draw(t, "event")}
		}), 1, 60).Draw(t, "spells")
		c := returns.Survival(spells, 0.9)
		before, seen := 1.0, 0
		for _, s := range c.Steps {
			if s.Survival >= before || math.IsNaN(s.Low+s.High+s.SE) || s.Low > s.Survival || s.High < s.Survival {
				t.Fatalf("step %+v after %v", s, before)
			}
			before = s.Survival
			seen += s.Events
			if plain {
				left := float64(len(spells)-seen) / float64(len(spells))
				if math.Abs(s.Survival-left) > 1e-9 {
					t.Fatalf("day %d: %v, want %v", s.Days, s.Survival, left)
				}
			}
		}
		if seen != c.Events {
			t.Fatalf("%d events in the steps, %d in all", seen, c.Events)
		}
	})
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within {
		t.Errorf("%s %.5f, want %.5f", what, got, want)
	}
}
