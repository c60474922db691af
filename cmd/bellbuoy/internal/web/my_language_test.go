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
