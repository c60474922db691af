package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// holds wants pieces of the page's source.
func (a answered) holds(pieces ...string) answered {
	a.t.Helper()
	for _, p := range pieces {
		if !strings.Contains(a.Body.String(), p) {
			a.t.Errorf("the page does not hold %q", p)
		}
	}
	return a
}

// editForm is the form of a customer as the page shows it.
func (s *testShop) editForm(cookie, customer string) url.Values {
	s.t.Helper()
	c, err := s.app.DB.Customer(s.t.Context(), customer)
	if err != nil {
		s.t.Fatal(err)
	}
	page := s.as(cookie, "GET", "/customers/"+customer+"/edit", nil).code(http.StatusOK)
	return url.Values{"form": {formOf(page)}, "seen": {site.Seen(c)}, "name": {c.Name}, "phone": {c.Phone}, "email": {c.Email},
		"address": {c.Address}, "city": {c.City}, "region": {c.Region}, "postal_code": {c.PostalCode}, "contact_by": {c.ContactBy}, "language": {c.Language}}
}

func TestCustomersPage(t *testing.T) {
	s := newTestShop(t)
	desk, tech := s.hire("Inge", "desk"), s.hire("Ruth", "technician")
	a := s.as(desk, "GET", "/customers/W3", nil).code(http.StatusOK).says("Odalys Trần", "296-555-0133", "87 Alder Spit Road", "Slow Sunday", "Blue Hour", "by email", "/my/", "/cal/")
	if strings.Contains(a.Body.String(), "Perch Pressure") {
		t.Error("another's boat is shown")
	}
	s.as(desk, "GET", "/customers/W1", nil).code(http.StatusOK).says("1 boat before", "Blue Hour")
	// Whoever has the links can answer for the customer.
	if page := s.as(tech, "GET", "/customers/W3", nil).code(http.StatusOK).Body.String(); strings.Contains(page, "/my/") || strings.Contains(page, "/edit") {
		t.Error("a technician sees the customer's links")
	}
	s.as(desk, "GET", "/customers/NOBODY", nil).code(http.StatusNotFound)
}

func TestPhoneNumberIsChanged(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	form := s.editForm(desk, "W2")
	form.Set("phone", "296-555-0777")
	if to := s.as(desk, "POST", "/customers/W2/edit", form).code(http.StatusSeeOther).to(); to != "/customers/W2" {
		t.Errorf("led to %q", to)
	}
	// A second press and Back write nothing.
	s.as(desk, "POST", "/customers/W2/edit", form).code(http.StatusUnprocessableEntity)
	s.as(desk, "GET", "/customers/W2", nil).says("296-555-0777", "Inge changed the customer: phone: 296-555-0777, before: 296-555-0122")
	s.as(desk, "GET", "/search?q=0777", nil).code(http.StatusSeeOther)

	stale := s.editForm(desk, "W2")
	other := s.editForm(desk, "W2")
	other.Set("city", "Elm Point")
	s.as(desk, "POST", "/customers/W2/edit", other).code(http.StatusSeeOther)
	stale.Set("phone", "296-555-0888")
	s.as(desk, "POST", "/customers/W2/edit", stale).code(http.StatusUnprocessableEntity).says("Meanwhile somebody changed Piotr Dunmarrow", "Elm Point").holds("296-555-0888")
	if c, err := s.app.DB.Customer(t.Context(), "W2"); err != nil || c.City != "Elm Point" || c.Phone != "296-555-0777" {
		t.Errorf("on file %+v (%v)", c, err)
	}
}

func TestLanguageIsChanged(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	s.as(desk, "GET", "/customers/W2/edit", nil).code(http.StatusOK).says("the shop's, English", "French")
	form := s.editForm(desk, "W2")
	form.Set("language", "fr")
	s.as(desk, "POST", "/customers/W2/edit", form).code(http.StatusSeeOther)
	s.as(desk, "GET", "/customers/W2", nil).says("in French", "Inge changed the customer: language: French, before: nothing")
	s.as(desk, "GET", "/customers/W2/edit", nil).code(http.StatusOK).holds(`<option value="fr" selected>French</option>`)
	other := s.editForm(desk, "W2")
	other.Set("language", "tlh")
	s.as(desk, "POST", "/customers/W2/edit", other).code(http.StatusUnprocessableEntity).says("Choose the customer's language.")
	c, err := s.app.DB.Customer(t.Context(), "W2")
	asShop := c
	if asShop.Language = ""; err != nil || s.app.Language(&c) != "fr" || s.app.Language(&asShop) != "en" {
		t.Errorf("on file %+v (%v)", c, err)
	}
}

func TestEmailsAreStoppedAndStarted(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	for _, c := range []struct {
		mails            string
		noReminders, not bool
	}{{"none", true, true}, {"booked", true, false}, {"all", false, false}} {
		s.as(desk, "POST", "/customers/W1/mails", url.Values{"mails": {c.mails}}).code(http.StatusSeeOther)
		s.as(desk, "POST", "/customers/W1/mails", url.Values{"mails": {c.mails}}).code(http.StatusSeeOther)
		if r, err := s.app.Recipient(t.Context(), "W1"); err != nil || r.NoReminders != c.noReminders || r.NoMail != c.not {
			t.Errorf("%s: %v %v (%v)", c.mails, r.NoReminders, r.NoMail, err)
		}
	}
	if n := s.changesOf("", "W1"); n != 3 {
		t.Errorf("%d changes, want 3", n)
	}
	s.as(desk, "POST", "/customers/W1/mails", url.Values{"mails": {"some"}}).code(http.StatusBadRequest)
}

func TestDeadAddressWorksAgain(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	storetest.Bounce(t, storetest.Writer(t, s.app.DB), "maren@example.com", "550 5.1.1 no such user")
	s.as(desk, "GET", "/customers/W1", nil).says("No email reaches maren@example.com", "no such user")
	for range 2 {
		s.as(desk, "POST", "/customers/W1/address", nil).code(http.StatusSeeOther)
	}
	if r, err := s.app.Recipient(t.Context(), "W1"); err != nil || r.Suppressed != "" {
		t.Errorf("still %q (%v)", r.Suppressed, err)
	}
}

func TestLinkIsSentAgainAndItsTextIsRead(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		s.as(desk, "POST", "/customers/W1/link", url.Values{"do": {"send"}}).code(http.StatusSeeOther)
	}
	letters, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "W1"})
	if err != nil || len(letters) != 1 {
		t.Fatalf("%d emails (%v), want one", len(letters), err)
	}
	my, err := s.app.MyURL(t.Context(), "W1")
	if err != nil {
		t.Fatal(err)
	}
	s.as(desk, "GET", "/customers/W1", nil).says(letters[0].Subject, "Waits to be sent.").holds("/emails/1")
	s.as(desk, "GET", "/emails/1", nil).code(http.StatusOK).says("You asked us for the link to your page", my)
	s.as(s.hire("Ruth", "technician"), "GET", "/emails/1", nil).code(http.StatusForbidden)
	s.as(desk, "GET", "/emails/77", nil).code(http.StatusNotFound)
}

func TestLinkIsExchangedOnce(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	old, err := s.app.MyURL(t.Context(), "W1")
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"do": {"new"}, "seen": {site.Seen(old)}}
	s.as(desk, "POST", "/customers/W1/link", form).code(http.StatusSeeOther)
	fresh, err := s.app.MyURL(t.Context(), "W1")
	if err != nil || fresh == old {
		t.Fatalf("the link is still %s (%v)", fresh, err)
	}
	s.as(desk, "POST", "/customers/W1/link", form).code(http.StatusSeeOther)
	if again, _ := s.app.MyURL(t.Context(), "W1"); again != fresh {
		t.Error("a second press took the new link away")
	}
}
