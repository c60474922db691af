package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store/storetest"
)

// TestTwinsAreMadeOneAndTwoAgain: a buyer whom the desk wrote down at the sale
// comes again in a file under another id.
func TestTwinsAreMadeOneAndTwoAgain(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	s.as(cookie, "GET", "/duplicates", nil).code(http.StatusOK).says("No possible duplicates.")
	again := schedule.Customer{ID: "C77", Name: "Jørstad, Maren", Email: "maren@example.com", ContactBy: "email"}
	if err := storetest.Writer(t, s.house.DB).SaveCustomer(t.Context(), s.now, "test", again); err != nil {
		t.Fatal(err)
	}
	s.as(cookie, "GET", "/duplicates", nil).says("Same email address", "Name Jørstad, Maren Maren Jørstad", "Email maren@example.com maren@example.com", "Perch Pressure", "Keep this one : Jørstad, Maren, C77")
	form := url.Values{"kind": {"customer"}, "keep": {"W1"}, "gone": {"C77"}, "do": {"merge"}}
	a := s.as(cookie, "POST", "/duplicates", form).code(http.StatusSeeOther)
	s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a)).says("Merged.", "customer C77 is now W1, by Inge").silent("Same email address")
	s.as(cookie, "POST", "/duplicates", form).code(http.StatusUnprocessableEntity)
	form.Set("do", "unmerge")
	s.as(cookie, "POST", "/duplicates", form).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/duplicates", nil).says("Same email address").silent("is now W1")
	form.Set("do", "apart")
	s.as(cookie, "POST", "/duplicates", form).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/duplicates", nil).says("customers C77 and W1, by Inge", "Undo : C77 and W1").silent("Same email address")
	form.Set("do", "together")
	s.as(cookie, "POST", "/duplicates", form).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/duplicates", nil).says("Same email address", "Not duplicates : ").silent("Undo : ")
	form.Set("kind", "crew")
	s.as(cookie, "POST", "/duplicates", form).code(http.StatusBadRequest)
}
