package web_test

import "testing"

// TestPartsNameTheirVisits: a number of visits opens the list of them.
func TestPartsNameTheirVisits(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "technician")
	s.as(cookie, "GET", "/parts?weeks=26", nil).says("Spark plugs PLUG-4T 8 2")
	s.as(cookie, "GET", "/parts?weeks=26&part=PLUG-4T", nil).says("Spark plugs 2 visits", "Perch Pressure spring commissioning")
	s.as(cookie, "GET", "/parts?weeks=26&part=NO-SUCH", nil).code(200)
}
