package demo

import (
	"math/rand/v2"
	"slices"

	"bellbuoy/schedule/civil"
)

// Generate invents the shop of [Parts] whole.
func Generate(rng *rand.Rand, today civil.Day, boats, years int) *Shop {
	whole := &Shop{}
	for part := range Parts(rng, today, boats, years) {
		whole.add(part)
	}
	return whole
}

// WriteTo writes its five files into a folder that exists.
func (s *Shop) WriteTo(dir string) error { return WriteParts(dir, slices.Values([]*Shop{s})) }

func (s *Shop) add(part *Shop) {
	s.Customers = append(s.Customers, part.Customers...)
	s.Boats = append(s.Boats, part.Boats...)
	s.Components = append(s.Components, part.Components...)
	s.Records = append(s.Records, part.Records...)
	s.Readings = append(s.Readings, part.Readings...)
}
