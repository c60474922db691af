package refusal

import "regexp"

// Kind says what a refusal is about.
type Kind int

const (
	Unclear Kind = iota // refused for good, no telling why
	Passing             // try again
	Address             // the address is dead
	Ours                // sign-in, signature, relaying: a person must look
	Policy              // policy, reputation: this mailbox's, or ours if others say so too
	TooBig              // this message, whoever it goes to
)

var (
	policyWords  = regexp.MustCompile(`(?i)\bspam|\bblock(ed|list)|black ?list|\b(spf|dkim|dmarc|rbl|dnsbl)\b|reputation|\bpolicy|relay(ing)?( access)? (denied|not)|not permitted to relay|authenticat`)
	unknownWords = regexp.MustCompile(`(?i)(user|recipient|mailbox|account|address)( address)?( is)? (unknown|disabled|inactive|rejected|not found|unavailable|does ?n.t exist|does not exist)|unknown (user|recipient|mailbox|address|local)|no such (user|recipient|mailbox|address|person)|(invalid|bad) (recipient|mailbox|destination)|user (does not|doesn.t) exist|no mailbox here|not a valid mailbox`)
	fullWords    = regexp.MustCompile(`(?i)quota|mailbox (is )?full|full mailbox|over(-| )?quota|insufficient (system )?storage`)
	enhancedRule = []struct {
		code *regexp.Regexp
		kind Kind
	}{
		{regexp.MustCompile(`^4\.`), Passing},
		{regexp.MustCompile(`^5\.7\.2\d$`), Ours}, // RFC 7372: SPF, DKIM, reverse DNS
		{regexp.MustCompile(`^5\.7\.`), Policy},
		{regexp.MustCompile(`^5\.1\.[78]$`), Ours}, // about the sender's address
		{regexp.MustCompile(`^5\.1\.`), Address},
		{regexp.MustCompile(`^5\.2\.1$`), Address},
		{regexp.MustCompile(`^5\.2\.2$`), Passing}, // a full mailbox may be emptied
		{regexp.MustCompile(`^5\.(2\.3|3\.4)$`), TooBig},
	}
)

// Of sorts a reply, from a server or in a bounce: the reply code, then the
// enhanced status code (RFC 3463), then the words. The words are those that
// mail hosts use (common practice, no source).
func Of(code int, enhanced, text string) Kind {
	switch {
	case code/100 == 4:
		return Passing
	case code == 530 || code == 534 || code == 535 || code == 538: // RFC 4954: sign in, or differently
		return Ours
	}
	for _, r := range enhancedRule {
		if r.code.MatchString(enhanced) {
			return r.kind
		}
	}
	switch {
	case policyWords.MatchString(text):
		return Policy
	case unknownWords.MatchString(text):
		return Address
	case code == 552 || fullWords.MatchString(text):
		return Passing
	}
	return Unclear
}
