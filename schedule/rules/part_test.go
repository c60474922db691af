package rules

import "testing"

func TestPartsOfTenthsStayTenths(t *testing.T) {
	p := Part{Quantity: 0.1}
	for range 15 {
		p.Add(0.1)
	}
	if p.Quantity != 1.6 {
		t.Errorf("sixteen tenths are %v, want 1.6", p.Quantity)
	}
}
