package web_test

import "testing"

// TestGasolineCautionFitsTheBoat: the owner of a diesel is not warned of fumes
// that the boat has not; one of an outboard is.
func TestGasolineCautionFitsTheBoat(t *testing.T) {
	s := newTestShop(t)
	const caution = "Before you start a gasoline engine"
	s.get(s.my("W1") + "/visit/PERCH.fit-out.2027").code(200).says(caution)
	s.get(s.my("W2") + "/visit/HERON.fit-out.2027").code(200).silent(caution)
}
