package web_test

import (
	"net/http"
	"testing"
)

// TestSaleWarnsOfALowCylinder: the desk hears of it while the buyer is still
// there; a test that passes is not spoken of.
func TestSaleWarnsOfALowCylinder(t *testing.T) {
	for psi, warns := range map[string]bool{"150 148 152 149": false, "150 148 90 149": true} {
		s := newTestShop(t)
		cookie := s.hire("Inge", "desk")
		form := saleForm()
		form.Set("psi-new-engine-1", psi)
		a := s.as(cookie, "POST", "/sold", form).code(http.StatusSeeOther)
		page := s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a)).code(http.StatusOK).says("Sold.")
		if warns {
			page.says("Compression: 90 to 150 psi", "a technician looks further")
		} else {
			page.silent("Compression: 148")
		}
	}
}
