package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store/storetest"
)

// searchShop is the worked shop with people whom a caller's words must find.
func searchShop(t *testing.T) *testShop {
	s := newTestShop(t)
	if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", schedule.Customer{ID: "W9", Name: "Ines Quell", Phone: "+1 (296) 555-0199", City: "Süderhaven"}); err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSearchFinds asks what callers say: most of it leads to one boat or customer
// at once.
func TestSearchFinds(t *testing.T) {
	s := searchShop(t)
	cookie := s.hire("Ruth", "technician")
	for _, c := range []struct{ name, text, to string }{
		{"a boat", "blue her", "/boats/HERON"},
		{"a boat by its id", "heron", "/boats/HERON"},
		{"a customer", "dunmarrow", "/boats/HERON"},
		{"a customer by first name", "piotr", "/boats/HERON"},
		{"a customer, last name first", "dunmarrow piotr", "/boats/HERON"},
		{"a customer by their id", "w2", "/boats/HERON"},
		{"an email", "maren@example.com", "/boats/PERCH"},
		{"a customer without the marks", "JORSTAD", "/boats/PERCH"},
		{"a customer with several boats", "odalys", "/customers/W3"},
		{"a customer without a boat", "quell", "/customers/W9"},
		{"a name and a boat", "tran sunday", "/boats/PUFFIN"},
		{"a boat and a name", "sunday tran", "/boats/PUFFIN"},
		{"a make and a name", "dunmarrow tarnholm", "/boats/HERON"},
		{"a make and a year", "2016 brackenhull", "/boats/PERCH"},
		{"a year and a model", "marlrunner 2022", "/boats/PUFFIN"},
		{"a street", "kedge lane", "/boats/PERCH"},
		{"a number and a street", "3 old ferry", "/boats/HERON"},
		{"a name and a town", "lindrake cove piotr", "/boats/HERON"},
		{"a town beyond ASCII", "suderhaven", "/customers/W9"},
		{"a HIN", "QXB3K7", "/boats/PERCH"},
		{"a HIN with blanks", "QXB 3K7T2 E616", "/boats/PERCH"},
		{"a HIN with hyphens", "qxb-3k7t2-e6-16", "/boats/PERCH"},
		{"a HIN with its country", "US-QXT8L2D9A818", "/boats/HERON"},
		{"a phone number", "555-0111", "/boats/PERCH"},
		{"a whole phone number", "296-555-0122", "/boats/HERON"},
		{"a phone number with its country", "+1 (296) 555-0122", "/boats/HERON"},
		{"a phone number with dots", "296.555.0122", "/boats/HERON"},
		{"a phone number, digits only", "12965550199", "/customers/W9"},
		{"four figures of a phone number", "0122", "/boats/HERON"},
		{"a wrong letter", "dunmarow", "/boats/HERON"},
		{"two letters that changed places", "piotr dumnarrow", "/boats/HERON"},
		{"a wrong letter in a boat's name", "slow sumday", "/boats/PUFFIN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if to := s.as(cookie, "GET", "/search?q="+url.QueryEscape(c.text), nil).code(http.StatusSeeOther).to(); to != c.to {
				t.Errorf("led to %q, want %s", to, c.to)
			}
		})
	}
	s.as(cookie, "GET", "/search?q=lindrake", nil).code(http.StatusOK).says("4 boats", "Slow Sunday", "Blue Hour", "Blue Heron", "Perch Pressure")
	s.as(cookie, "GET", "/search?q=zzz", nil).code(http.StatusOK).says("Nothing for")
}

// TestSearchGroupsAndActs shows an owner's boats together, with what can be done.
func TestSearchGroupsAndActs(t *testing.T) {
	s := searchShop(t)
	desk, tech := s.hire("Inge", "desk"), s.hire("Ruth", "technician")
	a := s.as(desk, "GET", "/search?q=lindrake", nil).code(http.StatusOK)
	page := a.Body.String()
	if strings.Count(page, `href="/customers/W3"`) != 1 {
		t.Error("the boats of one customer do not stand together")
	}
	a.holds("/boats/PUFFIN/book?visit=", "/boats/PUFFIN/record?visit=", "/boats/PUFFIN/call?", `href="tel:`)
	if page := s.as(tech, "GET", "/search?q=lindrake", nil).Body.String(); strings.Contains(page, "/book?") || strings.Contains(page, "/call?") {
		t.Error("a technician is offered what they may not do")
	}
}

// TestSearchFindsFormerOwners looks among those before when nobody has it now.
func TestSearchFindsFormerOwners(t *testing.T) {
	s := searchShop(t)
	if err := storetest.SetOwner(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", "HERON", "W9", s.today()); err != nil {
		t.Fatal(err)
	}
	cookie := s.hire("Ruth", "technician")
	// He has no boat now and is still a customer.
	if to := s.as(cookie, "GET", "/search?q=dunmarrow", nil).code(http.StatusSeeOther).to(); to != "/customers/W2" {
		t.Errorf("led to %q", to)
	}
	if to := s.as(cookie, "GET", "/search?q=dunmarrow+tarnholm", nil).code(http.StatusSeeOther).to(); to != "/boats/HERON" {
		t.Errorf("led to %q", to)
	}
}
