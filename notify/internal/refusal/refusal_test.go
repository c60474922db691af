package refusal_test

import (
	"testing"

	"bellbuoy/notify/internal/refusal"
)

// TestOf: the reply code comes first, then the enhanced code, then the words. The
// cases that mail hosts send are in the tests of send and bounce.
func TestOf(t *testing.T) {
	for _, c := range []struct {
		code           int
		enhanced, text string
		want           refusal.Kind
	}{
		{451, "5.1.1", "no such user", refusal.Passing},
		{550, "5.1.1", "blocked for spam", refusal.Address},
		{550, "5.1.8", "no such user", refusal.Ours},
		{550, "5.7.1", "no such user", refusal.Policy},
		{550, "5.7.26", "", refusal.Ours},
		{550, "5.2.2", "", refusal.Passing},
		{552, "5.3.4", "", refusal.TooBig},
		{552, "", "too much", refusal.Passing},
		{550, "", "User unknown", refusal.Address},
		{550, "", "Message blocked", refusal.Policy},
		{535, "5.1.1", "", refusal.Ours},
		{554, "", "transaction failed", refusal.Unclear},
		{0, "", "", refusal.Unclear},
	} {
		if got := refusal.Of(c.code, c.enhanced, c.text); got != c.want {
			t.Errorf("%d %s %q: %d, want %d", c.code, c.enhanced, c.text, got, c.want)
		}
	}
}
