package forecast

import "math"

// Spread returns how much owners differ in their hours per season, as the
// standard deviation over the mean. With 40 h, outings of 2.5 h and a weight of
// a quarter of a season it is 0.5.
func (p Prior) Spread() float64 {
	return math.Sqrt(p.OutingHours / (p.MeanHours * p.Weight))
}
