package returns

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Spell is one boat's time from a beginning to an event, in days. Without Event
// the time is censored: nothing had happened when it was last looked at.
type Spell struct {
	Days  int
	Event bool
}

// Step is the curve from one day with events to the next.
type Step struct {
	Days     int     `json:"days"`     // the day of the events
	AtRisk   int     `json:"at_risk"`  // spells that had reached that day without an event
	Events   int     `json:"events"`   // events on that day
	Censored int     `json:"censored"` // spells that ended without one from this day until the next step
	Survival float64 `json:"survival"` // estimated share without an event after that day
	SE       float64 `json:"se"`       // Greenwood's standard error of Survival; 0 where Survival is 0
	Low      float64 `json:"low"`      // confidence band by the log-log transform
	High     float64 `json:"high"`
}

// Curve is a Kaplan-Meier estimate of the share without an event, by days.
type Curve struct {
	N      int    `json:"n"`      // spells
	Events int    `json:"events"` // spells with an event
	Last   int    `json:"last"`   // the longest spell, in days: nothing is known past it
	Steps  []Step `json:"steps"`
}

// Survival estimates a curve from spells (Kaplan and Meier 1958), its variance
// by Greenwood's formula, and a pointwise band at the level, for example 0.95,
// on the scale of log(-log S), which never leaves 0 to 1. Censored spells of a
// day count as at risk on it. Where the estimate reaches 0 the formula gives no
// band: Low is 0 and High stays what it was.
func Survival(spells []Spell, level float64) Curve {
	sorted := slices.Clone(spells)
	slices.SortFunc(sorted, func(a, b Spell) int { return cmp.Compare(a.Days, b.Days) })
	c := Curve{N: len(sorted)}
	if c.N > 0 {
		c.Last = sorted[c.N-1].Days
	}
	z := normalQuantile(level)
	s, sum, high := 1.0, 0.0, 1.0
	for i := 0; i < len(sorted); {
		day, atRisk := sorted[i].Days, len(sorted)-i
		events, censored := 0, 0
		for ; i < len(sorted) && sorted[i].Days == day; i++ {
			if sorted[i].Event {
				events++
			} else {
				censored++
			}
		}
		if events == 0 {
			if n := len(c.Steps); n > 0 {
				c.Steps[n-1].Censored += censored
			}
			continue
		}
		c.Events += events
		s *= 1 - float64(events)/float64(atRisk)
		st := Step{Days: day, AtRisk: atRisk, Events: events, Censored: censored, Survival: s, High: high}
		if events < atRisk {
			sum += float64(events) / (float64(atRisk) * float64(atRisk-events))
			st.SE = s * math.Sqrt(sum)
			st.Low, st.High = logLogBand(s, sum, z)
			high = st.High
		}
		c.Steps = append(c.Steps, st)
	}
	return c
}

// logLogBand is the band of S on the scale of log(-log S); sum is Greenwood's.
func logLogBand(s, sum, z float64) (low, high float64) {
	w := z * math.Sqrt(sum) / math.Abs(math.Log(s))
	return math.Pow(s, math.Exp(w)), math.Pow(s, math.Exp(-w))
}

// At returns the step that holds on a day. Before the first event that is a
// step on day 0 with everybody left.
func (c *Curve) At(days int) Step {
	at := Step{AtRisk: c.N, Survival: 1, Low: 1, High: 1}
	for _, s := range c.Steps {
		if s.Days > days {
			break
		}
		at = s
	}
	return at
}

// Median returns the first day by which half have had the event; false if the
// curve never comes down to half: "not reached".
func (c *Curve) Median() (days int, reached bool) {
	return c.firstBelow(func(s *Step) float64 { return s.Survival })
}

// MedianBand returns the days on which the band comes down to half (Brookmeyer
// and Crowley 1982, on the log-log scale). The later one is often not reached.
func (c *Curve) MedianBand() (early int, hasEarly bool, late int, hasLate bool) {
	early, hasEarly = c.firstBelow(func(s *Step) float64 { return s.Low })
	late, hasLate = c.firstBelow(func(s *Step) float64 { return s.High })
	return early, hasEarly, late, hasLate
}

// rounding absorbs the last digits of a product of shares: 0.5 reached as
// 0.5000000000000001 is reached.
const rounding = 1e-12

func (c *Curve) firstBelow(of func(*Step) float64) (int, bool) {
	for i := range c.Steps {
		if of(&c.Steps[i]) <= 0.5+rounding {
			return c.Steps[i].Days, true
		}
	}
	return 0, false
}

// normalQuantile is the two-sided normal quantile of a level: 1.96 for 0.95.
func normalQuantile(level float64) float64 {
	return distuv.UnitNormal.Quantile(0.5 + level/2)
}
