package web_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// TestACustomerReadsAnotherLanguage: the address asks for one, and links and forms of
// that view keep it.
func TestACustomerReadsAnotherLanguage(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	before := s.fingerprint()
	page := s.get(my+"?lang=fr").code(http.StatusOK).says("Bonjour Maren Jørstad", "English").silent("Hello", "What you told us").
		holds(`<html lang="fr">`).holds(`<a href="` + my + `" hreflang="en" lang="en">English</a>`)
	for _, m := range regexp.MustCompile(`(?:href|action)="(/my/[^"]*)"`).FindAllStringSubmatch(page.Body.String(), -1) {
		if m[1] != my && !strings.HasSuffix(m[1], "?lang=fr") {
			t.Errorf("%s leads out of the language", m[1])
		}
	}
	if s.fingerprint() != before {
		t.Error("looking wrote something")
	}
	to := s.post(my+"/answer?lang=fr", answers()["call"].form).code(http.StatusSeeOther).to()
	s.get(to).says("Vous nous avez demandé de vous appeler.")
	s.post(my+"/answer?lang=fr", nil).code(http.StatusBadRequest).says("Un problème est survenu").holds(`<html lang="fr">`)
	s.get(my + "?lang=tlh").code(http.StatusOK).says("Hello").holds(`<html lang="en">`).silent("Français")
}

// TestACustomerChoosesTheirLanguage: who reads French on their page can have us write to
// them in French; in a shop where nobody reads another language the form does not ask.
func TestACustomerChoosesTheirLanguage(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	s.get(my).says("Your email address and phone number").silent("We write to you in", "phone number and language")
	page := s.get(my+"?lang=fr").says("votre numéro de téléphone et votre langue", "Nous vous écrivons en")
	form := formTo(t, page, my+"/contact?lang=fr")
	if got := form.Get("language"); got != "en" {
		t.Errorf("the form says that we write in %q", got)
	}
	form.Set("language", "fr")
	s.get(s.post(my+"/contact?lang=fr", form).code(http.StatusSeeOther).to()).holds(`<html lang="fr">`)
	if c, err := s.app.DB.Customer(t.Context(), "W1"); err != nil || c.Language != "fr" {
		t.Errorf("on file: %q, %v", c.Language, err)
	}
	s.get(my).code(http.StatusOK).holds(`<html lang="fr">`).says("Bonjour Maren Jørstad")
	form = formTo(t, s.get(my), my+"/contact")
	form.Set("language", "xx")
	s.post(my+"/contact", form).code(http.StatusSeeOther)
	form = formTo(t, s.get(my), my+"/contact")
	form.Set("language", "en")
	s.get(s.post(my+"/contact", form).code(http.StatusSeeOther).to()).says("Hello Maren Jørstad")
}
