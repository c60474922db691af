package message_test

import (
	"mime"
	"net/mail"
	"regexp"
	"strings"
	"testing"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/message"
)

// english are words that no French sentence of ours has.
var english = regexp.MustCompile(`(?i)\b(the|your|you|we|our|and|for|with|is|it|of|this|please|booked|about|week|hours?|no day)\b`)

// TestFrenchEmails renders every kind of email for a customer who reads French.
func TestFrenchEmails(t *testing.T) {
	r, err := message.NewRenderer(fixture.FrenchShop(t), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, n := range fixture.FrenchCases(t) {
		t.Run(name, func(t *testing.T) {
			l, err := r.Message(&n, fixture.Links)
			if err != nil {
				t.Fatal(err)
			}
			_, text, page := fixture.Bodies(t, l.Raw)
			text = strings.ReplaceAll(text, "\r\n", "\n")
			goldenIn(t, "mail-fr", name+".eml", l.Raw)
			goldenIn(t, "mail-fr", name+".txt", []byte(l.Subject+"\n\n"+text))
			checkLetterLines(t, l.Raw)
			checkSameContent(t, text, page)
			checkSafePage(t, page)
			checkFrench(t, l.Subject+"\n"+text)
			if !strings.Contains(page, `<html lang="fr"`) || !strings.Contains(page, `class="sheet" lang="fr"`) {
				t.Error("the page does not say that it is French")
			}
			m, err := mail.ReadMessage(strings.NewReader(string(l.Raw)))
			if err != nil {
				t.Fatal(err)
			}
			subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
			from, err2 := m.Header.AddressList("From")
			if err != nil || err2 != nil || subject != l.Subject || from[0].Name != "Bateaux Prés-Verts" || m.Header.Get("Content-Language") != "fr" {
				t.Errorf("subject %q from %v in %q (%v, %v)", subject, from, m.Header.Get("Content-Language"), err, err2)
			}
		})
	}
}

// checkFrench looks for English, for words in braces that nothing filled, and for
// spaces that Canadian typography has or has not.
func checkFrench(t *testing.T, text string) {
	t.Helper()
	text = regexp.MustCompile(`https?:\S+`).ReplaceAllString(text, "")
	for _, w := range english.FindAllString(text, -1) {
		t.Errorf("English: %q in\n%s", w, text)
	}
	if strings.ContainsAny(text, "{}") {
		t.Errorf("an unfilled phrase:\n%s", text)
	}
	for fault, pattern := range map[string]string{
		"a colon without a no-break space":      `[^\x{a0}\d]:(?:\s|$)`,
		"a blank before a mark":                 `[ \x{a0}][;?!](?:\s|$)`,
		"a quote without a no-break space":      `«[^\x{a0}]|[^\x{a0}]»`,
		"a preposition that should be elided":   `(?i)\b(?:de|le|la|que|se|ne|je) [aeiouéèê]`,
		"a full stop twice":                     `\.\.`,
		"an amount with the sign before digits": `\$\d`,
	} {
		if found := regexp.MustCompile(`(?m)` + pattern).FindString(text); found != "" {
			t.Errorf("%s: %q in\n%s", fault, found, text)
		}
	}
}

// TestEachInTheirOwnLanguage: one shop writes to each customer in the language on
// file, and in its own to those without one.
func TestEachInTheirOwnLanguage(t *testing.T) {
	r, err := message.NewRenderer(fixture.FrenchShop(t), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for language, want := range map[string]string{"": "Bonjour ", "fr": "Bonjour ", "en": "Hello ", "nl": "Hello "} {
		n := fixture.Cases(t)["booked"]
		n.Customer.Language = language
		if text, _, err := r.Bodies(&n, fixture.Links); err != nil || !strings.HasPrefix(text, want) {
			t.Errorf("%q: %.80q (%v)", language, text, err)
		}
	}
}
