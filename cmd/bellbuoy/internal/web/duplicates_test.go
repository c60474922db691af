package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/storetest"
)

// TestDuplicatesAreMergedAndUndone: a buyer whom the desk wrote down at the sale
// comes again in a file under another id.
func TestDuplicatesAreMergedAndUndone(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	s.as(cookie, "GET", "/duplicates", nil).code(http.StatusOK).says("No possible duplicates.")
	again := schedule.Customer{ID: "C77", Name: "Jørstad, Maren", Email: "maren@example.com", ContactBy: "email"}
	if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", again); err != nil {
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

// What agrees is merged by one press, and taken back by one.
func TestAllThatAgreeAreMerged(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	for _, id := range []string{"C77", "C78"} {
		again := schedule.Customer{ID: id, Name: "Jørstad, Maren", Email: "maren@example.com", ContactBy: "email"}
		if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", again); err != nil {
			t.Fatal(err)
		}
	}
	s.as(cookie, "GET", "/duplicates", nil).says("3 pairs agree", "Merge all that agree", "customer, agree")
	a := s.as(cookie, "POST", "/duplicates/agreeing", nil).code(http.StatusSeeOther)
	s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a)).says("2 pairs merged.", "Merged together", "2 pairs, by Inge", "No possible duplicates").silent("Merge all that agree")
	merged, err := duplicates.Merges(t.Context(), s.app.DB)
	if err != nil || len(merged) != 2 {
		t.Fatalf("%v, %v", merged, err)
	}
	form := url.Values{"step": {fmt.Sprint(merged[0].Step)}}
	a = s.as(cookie, "POST", "/duplicates/agreeing", form).code(http.StatusSeeOther)
	s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a)).says("2 merges undone.", "3 pairs agree").silent("Merged together")
	s.as(cookie, "POST", "/duplicates/agreeing", form).code(http.StatusUnprocessableEntity).says("undone already")
	s.as(cookie, "POST", "/duplicates/agreeing", url.Values{"step": {"all"}}).code(http.StatusBadRequest)
}
