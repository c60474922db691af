package web_test

import (
	"net/http"
	"net/url"
	"testing"
)

// TestTheOwnerKeepsTheAccounts: the owner gives accounts, roles and passwords and
// takes them away; somebody stays owner; nobody else opens the page.
func TestTheOwnerKeepsTheAccounts(t *testing.T) {
	s := newTestShop(t)
	owner, desk := s.hire("Odile", "owner"), s.hire("Inge", "desk")
	s.as(desk, "GET", "/staff", nil).code(http.StatusForbidden)
	post := func(f url.Values) answered {
		t.Helper()
		f.Set("form", formOf(s.as(owner, "GET", "/staff", nil).code(http.StatusOK)))
		return s.as(owner, "POST", "/staff", f)
	}
	signIn := func(name, password string) answered {
		return s.send("POST", "/sign-in", url.Values{"name": {name}, "password": {password}})
	}
	for _, c := range []struct {
		name string
		form url.Values
		says string
	}{
		{"no name", url.Values{"do": {"save"}, "role": {"desk"}, "password": {"four words in a row"}}, "write the name"},
		{"no role", url.Values{"do": {"save"}, "name": {"Bram"}, "role": {"captain"}, "password": {"four words in a row"}}, "choose one of the three"},
		{"no password", url.Values{"do": {"save"}, "name": {"Bram"}, "role": {"desk"}}, "a new account needs one"},
		{"a short password", url.Values{"do": {"save"}, "name": {"Bram"}, "role": {"desk"}, "password": {"short"}}, "want 10 to 200"},
		{"no owner left", url.Values{"do": {"remove"}, "name": {"Odile"}}, "Nobody would be owner any more"},
		{"the last owner as technician", url.Values{"do": {"save"}, "name": {"Odile"}, "role": {"technician"}}, "Nobody would be owner any more"},
	} {
		t.Run(c.name, func(t *testing.T) { post(c.form).code(http.StatusUnprocessableEntity).says(c.says) })
	}
	post(url.Values{"do": {"save"}, "name": {"Bram"}, "role": {"technician"}, "password": {"four words in a row"}}).code(http.StatusSeeOther)
	signIn("Bram", "four words in a row").code(http.StatusSeeOther)
	post(url.Values{"do": {"save"}, "name": {"Bram"}, "role": {"desk"}}).code(http.StatusSeeOther) // keeps the password
	bram := signIn("Bram", "four words in a row").code(http.StatusSeeOther)
	s.as(cookieOf(bram), "GET", "/email", nil).code(http.StatusOK)
	post(url.Values{"do": {"sign-out"}, "name": {"Bram"}}).code(http.StatusSeeOther)
	s.as(cookieOf(bram), "GET", "/email", nil).code(http.StatusSeeOther)
	post(url.Values{"do": {"remove"}, "name": {"Bram"}}).code(http.StatusSeeOther)
	signIn("Bram", "four words in a row").code(http.StatusUnauthorized)
	s.as(owner, "GET", "/changes?about=settings", nil).says("Odile saved an account: Bram · role: desk", "Odile removed an account: Bram").silent("argon2")
}

// TestAnOwnPassword: who knows the old one chooses a new one, and is signed out
// everywhere.
func TestAnOwnPassword(t *testing.T) {
	s := newTestShop(t)
	ruth := s.hire("Ruth", "technician")
	change := func(old, fresh string) answered {
		t.Helper()
		return s.as(ruth, "POST", "/password", url.Values{"form": {formOf(s.as(ruth, "GET", "/password", nil))}, "old": {old}, "new": {fresh}})
	}
	change("not it at all", "five words that nobody guesses").code(http.StatusUnprocessableEntity).says("not the present password").silent("not it at all")
	change(password, "short").code(http.StatusUnprocessableEntity).says("want 10 to 200")
	change(password, "five words that nobody guesses").code(http.StatusSeeOther)
	s.as(ruth, "GET", "/day", nil).code(http.StatusSeeOther)
	s.send("POST", "/sign-in", url.Values{"name": {"Ruth"}, "password": {password}}).code(http.StatusUnauthorized)
	s.send("POST", "/sign-in", url.Values{"name": {"Ruth"}, "password": {"five words that nobody guesses"}}).code(http.StatusSeeOther)
}
