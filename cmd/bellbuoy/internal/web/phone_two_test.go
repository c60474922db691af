package web_test

import (
	"net/http"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/storetest"
)

// TestCallListBooksEveryBoat: who is called about two boats can have both booked
// from the round.
func TestCallListBooksEveryBoat(t *testing.T) {
	s := newTestShop(t)
	c, err := s.app.DB.Customer(t.Context(), "W3")
	if err != nil {
		t.Fatal(err)
	}
	c.ContactBy = "phone"
	if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", c); err != nil {
		t.Fatal(err)
	}
	s.now = civil.Of(2027, 4, 20).At(10, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	page := s.as(s.hire("Inge", "desk"), "GET", "/calls", nil).code(http.StatusOK).says("Odalys Trần").Body.String()
	for _, path := range []string{"/boats/LARK/book?back=%2Fcalls&amp;visit=LARK.fit-out.2027", "/boats/PUFFIN/book?back=%2Fcalls&amp;visit=PUFFIN."} {
		if !strings.Contains(page, path) {
			t.Errorf("the round has no link to %s", path)
		}
	}
}
