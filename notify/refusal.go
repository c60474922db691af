package notify

import "regexp"

// fault says what a refusal is about.
type fault int

const (
	faultUnclear fault = iota // refused for good, no telling why
	faultPassing              // try again
	faultAddress              // the address is dead
	faultOurs                 // sign-in, signature, relaying: a person must look
	faultPolicy               // policy, reputation: this mailbox's, or ours if others say so too
	faultTooBig               // this message, whoever it goes to
)

var (
	policyWords  = regexp.MustCompile(`(?i)\bspam|\bblock(ed|list)|black ?list|\b(spf|dkim|dmarc|rbl|dnsbl)\b|reputation|\bpolicy|relay(ing)?( access)? (denied|not)|not permitted to relay|authenticat`)
	unknownWords = regexp.MustCompile(`(?i)(user|recipient|mailbox|account|address)( address)?( is)? (unknown|disabled|inactive|rejected|not found|unavailable|does ?n.t exist|does not exist)|unknown (user|recipient|mailbox|address|local)|no such (user|recipient|mailbox|address|person)|(invalid|bad) (recipient|mailbox|destination)|user (does not|doesn.t) exist|no mailbox here|not a valid mailbox`)
	fullWords    = regexp.MustCompile(`(?i)quota|mailbox (is )?full|full mailbox|over(-| )?quota|insufficient (system )?storage`)
	enhancedRule = []struct {
		code  *regexp.Regexp
		fault fault
	}{
		{regexp.MustCompile(`^4\.`), faultPassing},
		{regexp.MustCompile(`^5\.7\.2\d$`), faultOurs}, // RFC 7372: SPF, DKIM, reverse DNS
		{regexp.MustCompile(`^5\.7\.`), faultPolicy},
		{regexp.MustCompile(`^5\.1\.[78]$`), faultOurs}, // about the sender's address
		{regexp.MustCompile(`^5\.1\.`), faultAddress},
		{regexp.MustCompile(`^5\.2\.1$`), faultAddress},
		{regexp.MustCompile(`^5\.2\.2$`), faultPassing}, // a full mailbox may be emptied
		{regexp.MustCompile(`^5\.(2\.3|3\.4)$`), faultTooBig},
	}
)

// faultOf sorts a reply, from a server or in a bounce: the reply code, then the
// enhanced status code (RFC 3463), then the words. The words are those that
// mail hosts use (common practice, no source).
func faultOf(code int, enhanced, text string) fault {
	switch {
	case code/100 == 4:
		return faultPassing
	case code == 530 || code == 534 || code == 535 || code == 538: // RFC 4954: sign in, or differently
		return faultOurs
	}
	for _, r := range enhancedRule {
		if r.code.MatchString(enhanced) {
			return r.fault
		}
	}
	switch {
	case policyWords.MatchString(text):
		return faultPolicy
	case unknownWords.MatchString(text):
		return faultAddress
	case code == 552 || fullWords.MatchString(text):
		return faultPassing
	}
	return faultUnclear
}
