package returns

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"bellbuoy/schedule/measure"
)

// Side is one side of a comparison by lot: the customers on it, and what each
// of them paid.
type Side struct {
	Share
	Paid []measure.Cents // of each customer, nothing included
}

// Add counts a customer who came or did not, and what they paid.
func (s *Side) Add(came bool, paid measure.Cents) {
	s.Of++
	if came {
		s.Came++
	}
	s.Paid = append(s.Paid, paid)
}

// Assignment is what came of one drawing of lots: those who heard and those who,
// by lot alone, did not.
type Assignment struct {
	Notified, Held Side
}

// Effect is a difference with its interval. It is not known where a side is too
// small to tell.
type Effect struct {
	Known bool    `json:"known"`
	By    float64 `json:"by"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// CameMore is by how much the share that came is larger among those who heard,
// from -1 to 1, over several drawings, at a level such as 0.95.
//
// Each drawing is compared within itself, since shares differ from season to
// season, and weighs by its two sides as Mantel and Haenszel (1959) have it. The
// interval of one drawing is Newcombe's (Statistics in Medicine 17, 1998, method
// 10: Wilson's intervals of both shares put together), that of several follows
// from theirs (Zou and Donner, Statistics in Medicine 27, 2008).
func CameMore(all []Assignment, level float64) Effect {
	var e Effect
	var weights, below, above float64
	for i := range all {
		heard, held := &all[i].Notified, &all[i].Held
		w := weight(heard.Of, held.Of)
		if w == 0 {
			continue
		}
		d := heard.Rate() - held.Rate()
		low, high := newcombe(heard.Share, held.Share, level)
		weights += w
		e.By += w * d
		below += w * w * (d - low) * (d - low)
		above += w * w * (high - d) * (high - d)
	}
	if weights == 0 {
		return Effect{}
	}
	e.Known, e.By = true, e.By/weights
	e.Low = max(-1, e.By-math.Sqrt(below)/weights)
	e.High = min(1, e.By+math.Sqrt(above)/weights)
	return e
}

// weight of a drawing with so many on either side; 0 where one is empty.
func weight(a, b int) float64 {
	if a == 0 || b == 0 {
		return 0
	}
	return float64(a) * float64(b) / float64(a+b)
}

// newcombe is the interval of a difference of two independent shares.
func newcombe(a, b Share, level float64) (low, high float64) {
	aLow, aHigh := a.Interval(level)
	bLow, bHigh := b.Interval(level)
	d := a.Rate() - b.Rate()
	low = d - math.Hypot(a.Rate()-aLow, bHigh-b.Rate())
	high = d + math.Hypot(aHigh-a.Rate(), b.Rate()-bLow)
	return low, high
}

// PaidMore is by how much more a customer who heard paid, in cents, with Welch's
// interval (Biometrika 34, 1947) at a level such as 0.95, over several drawings
// that weigh as in [CameMore]. It is known where some drawing has two customers
// on either side whose payments differ.
func PaidMore(all []Assignment, level float64) Effect {
	var e Effect
	var weights, variance, spread float64
	for i := range all {
		heard, held := all[i].Notified.Paid, all[i].Held.Paid
		if len(heard) < 2 || len(held) < 2 {
			continue
		}
		w := weight(len(heard), len(held))
		m1, v1 := meanAndVariance(heard)
		m0, v0 := meanAndVariance(held)
		weights += w
		e.By += w * (m1 - m0)
		for _, x := range []struct {
			v float64
			n int
		}{{v1, len(heard)}, {v0, len(held)}} {
			part := w * w * x.v / float64(x.n)
			variance += part
			spread += part * part / float64(x.n-1)
		}
	}
	if variance == 0 {
		return Effect{}
	}
	freedom := variance * variance / spread // Satterthwaite's
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(0.5 + level/2)
	half := t * math.Sqrt(variance) / weights
	e.Known, e.By = true, e.By/weights
	e.Low, e.High = e.By-half, e.By+half
	return e
}

// meanAndVariance of amounts, the variance by one less than their number.
func meanAndVariance(xs []measure.Cents) (mean, variance float64) {
	for _, x := range xs {
		mean += float64(x)
	}
	mean /= float64(len(xs))
	for _, x := range xs {
		variance += (float64(x) - mean) * (float64(x) - mean)
	}
	return mean, variance / float64(len(xs)-1)
}
