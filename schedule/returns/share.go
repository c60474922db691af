package returns

import "math"

// Share is so many out of so many.
type Share struct {
	Came int `json:"returned"`
	Of   int `json:"of"`
}

// Rate is the share as a number from 0 to 1; 0 of nothing.
func (s Share) Rate() float64 {
	if s.Of == 0 {
		return 0
	}
	return float64(s.Came) / float64(s.Of)
}

// Interval is Wilson's score interval (1927) at a level such as 0.95, without a
// continuity correction. Unlike the textbook's plus and minus it stays within 0
// to 1 and holds for few boats. Of nothing it is everything: 0 to 1.
func (s Share) Interval(level float64) (low, high float64) {
	if s.Of == 0 {
		return 0, 1
	}
	n, p, z := float64(s.Of), s.Rate(), normalQuantile(level)
	mid := p + z*z/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	low, high = (mid-half)/(1+z*z/n), (mid+half)/(1+z*z/n)
	// The ends are exact, whatever the last digits say.
	if s.Came == 0 {
		low = 0
	}
	if s.Came == s.Of {
		high = 1
	}
	return max(0, low), min(1, high)
}
