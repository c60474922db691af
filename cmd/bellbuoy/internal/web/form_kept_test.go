package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// formTo reads the form of a page that goes to an address, as a browser would
// send it.
func formTo(t *testing.T, a answered, action string) url.Values {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(a.Body.String()))
	if err != nil {
		t.Fatal(err)
	}
	for n := range doc.Descendants() {
		if to, _ := mark(n, "action"); n.DataAtom == atom.Form && to == action {
			return inForm(n)
		}
	}
	t.Fatalf("no form to %s", action)
	return nil
}

// TestFormOfAVisitThatLeftThePlanIsKept: while somebody fills in what was done at a
// visit, another records it. What was typed is shown again, jobs and all, and can
// be saved as work outside the plan.
func TestFormOfAVisitThatLeftThePlanIsKept(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	v := s.nextVisit("HERON")
	page := s.as(desk, "GET", "/boats/HERON/record?visit="+v.ID, nil).code(http.StatusOK)
	typed := formTo(t, page, "/boats/HERON/record")
	typed.Set("note", "Two lines\r\nof remarks")
	typed.Set("amount0", "77.00")
	typed.Set("finding", "Play in the bearing")
	typed.Set("sure", "1")
	jobs := 0
	for name := range typed {
		if strings.HasPrefix(name, "job") {
			jobs++
		}
	}
	first := formTo(t, s.as(desk, "GET", "/boats/HERON/record?visit="+v.ID, nil), "/boats/HERON/record")
	first.Set("sure", "1")
	s.as(desk, "POST", "/boats/HERON/record", first).code(http.StatusSeeOther)
	before := len(s.facts("HERON").Records)

	a := s.as(desk, "POST", "/boats/HERON/record", typed).code(http.StatusUnprocessableEntity).says("no longer in the plan")
	again := formTo(t, a, "/boats/HERON/record")
	for name, values := range typed {
		if name == "visit" || name == "form" || name == "sure" {
			continue
		}
		if got := strings.Join(again[name], "|"); got != strings.ReplaceAll(strings.Join(values, "|"), "\r\n", "\n") {
			t.Errorf("%s: typed %q, the page shows %q", name, values, got)
		}
	}
	if len(s.facts("HERON").Records) != before {
		t.Fatal("it was recorded unasked")
	}
	again.Set("finding", "")
	again.Set("sure", "1")
	s.as(desk, "POST", "/boats/HERON/record", again).code(http.StatusSeeOther)
	if got := len(s.facts("HERON").Records) - before; got < jobs {
		t.Errorf("%d records were added, want %d", got, jobs)
	}
}

// TestFormSurvivesTheEndOfTheSession: what was typed goes through the sign-in, wrong
// passwords and all, and is sent by one more press.
func TestFormSurvivesTheEndOfTheSession(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	typed := s.editForm(desk, "W2")
	typed.Set("phone", "296-555-0777")
	typed.Set("address", "4 “Old” Ferry <Road>")
	s.now = s.now.Add(24 * time.Hour)
	a := s.as(desk, "POST", "/customers/W2/edit", typed).code(http.StatusForbidden).says("You were signed out", "Password")
	for _, secret := range []string{"wrong", password} {
		in := formTo(t, a, "/sign-in")
		in.Set("name", "Inge")
		in.Set("password", secret)
		a = s.as("none=none", "POST", "/sign-in", in)
	}
	a.code(http.StatusOK).says("Send it now", "296-555-0777")
	again := formTo(t, a, "/customers/W2/edit")
	s.as(cookieOf(a), "POST", "/customers/W2/edit", again).code(http.StatusSeeOther)
	c, err := s.app.DB.Customer(t.Context(), "W2")
	if err != nil || c.Phone != "296-555-0777" || c.Address != "4 “Old” Ferry <Road>" {
		t.Errorf("on file %+v (%v)", c, err)
	}
	// A file is too much to carry, and says so.
	s.send("POST", "/import", nil, "Content-Type", "multipart/form-data; boundary=x").code(http.StatusForbidden)
}

// TestCallAboutAVisitThatLeftThePlanIsKept as a note about the boat.
func TestCallAboutAVisitThatLeftThePlanIsKept(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	s.as(desk, "POST", "/boats/HERON/call", url.Values{"visit": {"HERON.lay-up.1999"}, "outcome": {"settled"}, "note": {"Comes in June"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/customers/W2", nil).says("Comes in June")
}
