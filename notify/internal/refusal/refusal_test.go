package refusal_test

import (
	"testing"

	"bellbuoy/notify/internal/refusal"
)

// TestOf: the reply code comes first, then an enhanced code that means one thing,
// then the words, then a code that hosts send with whatever they refuse. The
// words are as mail hosts send them, with our own names.
func TestOf(t *testing.T) {
	for _, c := range []struct {
		code           int
		enhanced, text string
		want           refusal.Kind
	}{
		{451, "5.1.1", "no such user", refusal.Passing},
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

		// Policy, rate and quota with a code for a dead address.
		{550, "5.1.1", "blocked for spam", refusal.Policy},
		{550, "5.1.0", "Message rejected due to content policy", refusal.Policy},
		{550, "5.1.1", "listed at zen.blocklist.example.org", refusal.Policy},
		{550, "5.1.0", "sender rejected", refusal.Ours},
		{550, "5.1.1", "Sender address rejected: Domain not found", refusal.Ours},
		{550, "5.2.1", "The user you are trying to contact is receiving mail at a rate that prevents additional messages", refusal.Passing},
		{550, "5.1.1", "Too many messages from your IP, try again later", refusal.Passing},
		{550, "5.2.1", "mailbox is full", refusal.Passing},
		{550, "5.1.1", "recipient over quota", refusal.Passing},
		{550, "5.1.1", "user's mailfolder is full", refusal.Passing},

		// Dead all the same.
		{550, "5.1.1", "The email account that you tried to reach does not exist. https://mail.example/policy?p=NoSuchUser", refusal.Address},
		{550, "5.1.1", "<spam-policy@mail.example>: Recipient address rejected: User unknown in virtual alias table", refusal.Address},
		{550, "5.2.1", "mailbox disabled", refusal.Address},
		{550, "5.1.1", "", refusal.Address},
		{550, "5.1.10", "Recipient not found", refusal.Address},
		{554, "", "delivery error: This user doesn't have a mail.example account", refusal.Address},

		// Dead domains, and domains that were only not found this time.
		{0, "5.4.4", "Host or domain name not found. Name service error for name=gone.example type=MX: Host not found", refusal.Address},
		{0, "4.4.3", "Host or domain name not found. Name service error for name=gone.example type=MX: Host not found, try again", refusal.Passing},
		{0, "", "Name service error for domain gone.example: Host not found, try again", refusal.Passing},
		{0, "5.0.0", "Unrouteable address", refusal.Address},
		{0, "5.0.0", "all relevant MX records point to non-existent hosts", refusal.Address},
		{0, "5.0.0", "no MX record for gone.example", refusal.Address},
		{556, "", "Domain gone.example does not accept mail (nullMX)", refusal.Address},
		{0, "5.1.2", "", refusal.Address},
		{550, "", "Helo command rejected: Host not found", refusal.Unclear},

		// A status field of another server than the one that said no.
		{550, "4.4.7", "User unknown", refusal.Address},
		{0, "4.0.0", "connection timed out", refusal.Passing},
	} {
		if got := refusal.Of(c.code, c.enhanced, c.text); got != c.want {
			t.Errorf("%d %s %q: %d, want %d", c.code, c.enhanced, c.text, got, c.want)
		}
	}
}
