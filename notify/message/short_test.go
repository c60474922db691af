package message_test

import (
	"regexp"
	"strings"
	"testing"

	"bellbuoy/notify/internal/fixture"
)

// budget is how many words each kind of email may have, from below the greeting
// to the sign-off.
var budget = map[string]int{
	"invitation": 120, "first-late": 120, "first-again": 120, "warranty": 120,
	"overdue": 120, "nudge": 75, "last-call": 90,
	"confirmation": 130, "moved": 130, "moved-us": 130, "moved-you": 130, "hour-set": 130, "booked": 130,
	"cancellation": 60, "cancellation-you": 60, "cancellation-us": 60, "declined": 60, "new-address": 130, "new-address-old": 40, "passed-on": 60, "passed-on-sister": 60,
	"several": 170, "three": 220, "confirmation-three": 220,
	"asked": 90, "hours": 60, "freeze": 100, "welcome": 120, "page": 120, "new-link": 60, "correction": 120, "summary": 120, "summary-winterized": 120,
}

// footerBudget is how many words stand below the sign-off: who, where, why, stop.
const footerBudget = 45

// TestEmailsAreShort counts the words of every kind of email.
func TestEmailsAreShort(t *testing.T) {
	r := fixture.Renderer(t, nil)
	for name, n := range fixture.Cases(t) {
		text, _, err := r.Bodies(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		body, foot := splitEmail(t, text)
		if most, ok := budget[name]; !ok || countWords(body) > most {
			t.Errorf("%s has %d words, want at most %d:\n%s", name, countWords(body), most, body)
		}
		if got := countWords(foot); got > footerBudget {
			t.Errorf("%s has %d words below the sign-off, want at most %d:\n%s", name, got, footerBudget, foot)
		}
		if n := strings.Count(text, "\n! "); n > 2 {
			t.Errorf("%s has %d cautions, want at most 2", name, n)
		}
		t.Logf("%-20s %3d words, %d in the footer", name, countWords(body), countWords(foot))
	}
}

// TestNoSentenceTwice: what an email has said it does not say again.
func TestNoSentenceTwice(t *testing.T) {
	r := fixture.Renderer(t, nil)
	for name, n := range fixture.Cases(t) {
		text, _, err := r.Bodies(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		said := map[string]bool{}
		for _, s := range sentencePattern.FindAllString(strings.Join(strings.Fields(text), " "), -1) {
			if said[s] {
				t.Errorf("%s says twice: %s", name, s)
			}
			said[s] = true
		}
	}
}

var sentencePattern = regexp.MustCompile(`[A-Z][^.!?]{15,}[.!?]`)

// splitEmail cuts the greeting off a text and parts what is below the sign-off.
func splitEmail(t *testing.T, text string) (body, foot string) {
	t.Helper()
	_, rest, ok := strings.Cut(text, "\n\n")
	body, foot, signed := strings.Cut(rest, "Your service desk at")
	_, foot, ruled := strings.Cut(foot, "\n\n")
	if !ok || !signed || !ruled || !strings.HasPrefix(text, "Hello") {
		t.Fatalf("no greeting, sign-off or rule in\n%s", text)
	}
	return body, foot
}

// countWords counts what has a letter or a digit; an address is one word.
func countWords(s string) int {
	n := 0
	for _, w := range strings.Fields(s) {
		if wordPattern.MatchString(w) {
			n++
		}
	}
	return n
}
