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

// wordRule says whose fault some words name.
type wordRule struct {
	words *regexp.Regexp
	kind  Kind
}

// before are looked for before the general codes for a dead address (5.1.0,
// 5.1.1, 5.2.1), since many hosts send those with any refusal. The words are those that mail
// hosts use (common practice, no source).
var before = []wordRule{
	{regexp.MustCompile(`(?i)sender('s)? ((e-?mail )?address|domain|ip)? ?(is |was |has been )?(rejected|denied|refused|invalid|not (allowed|found|verified|accepted))|sender verif(y|ication) fail|(invalid|bad|unknown) sender|return path`), Ours},
	{regexp.MustCompile(`(?i)quota|(mail ?box|mail ?folder|mail ?box space|inbox|disk)( for .{0,80}| size)? (is |was )?(too |almost )?(full|exceeded|not enough|over)|full mailbox|over ?limit|(insufficient|not enough|out of) (system |disk )?(storage|space)|exceed\w* (the |its |their )?(storage|mailbox|size of)`), Passing},
	{regexp.MustCompile(`(?i)too (many|fast|quickly|much mail)|\brate\b|throttl|receiving mail|temporar|try (again|it|your request|the message)?.{0,12}later|not found,? try again|(message|delivery|queue).{0,20}(timed? ?out|expired|too long)|expired|timed? out|time-expired|grey-?list|connection (refused|reset)|unable to connect|not respond|cannot connect|server (is )?busy|resources unavailable|hop count|too many hops|loop`), Passing},
	{regexp.MustCompile(`(?i)(message|mail|incoming|inbound|size).{0,24}(too (big|large)|exceed\w*.{0,20}(size|limit|maximum))|exceed\w*.{0,20}(message|mail) size`), TooBig},
	{regexp.MustCompile(`(?i)\bspam|\bblock(ed|list)?\b|black ?list|listed (at|in|on|by) [a-z0-9.-]+\.(org|net|com)|\b(spf|dkim|dmarc|rbl|dnsbl|ptr)\b|reputation|\bpolic(y|ies)\b|relay(ing)?( access| to .{0,80}| for .{0,80})? ?(denied|not|prohibited)|unable to relay|not permitted|not allowed to send|not authori[sz]ed|authenticat|unsolicited|virus|content (rejected|filter)|rejected (due to|by|for) (content|security|the recipient)|accepting mail (only )?from|reverse dns|banned|abuse`), Policy},
}

// deadWords say that there is no such mailbox, deadDomain that there is no such
// place.
var (
	deadWords = regexp.MustCompile(`(?i)(user|recipient|mailbox|account|address|addressee|userid)(name)?( name| address)?( is| was| has been)? ?(unknown|disabled|inactive|suspended|deactivated|closed|expired|discontinued|rejected|invalid|not (found|known|valid|recogni[sz]ed|listed)|unavailable|no longer|doesn.?t exist|does not exist)` +
		`|unknown (or \w+ )?(user|recipient|mailbox|address|local|account)|no such (user|recipient|mailbox|address|person|account|local)|(invalid|bad|illegal|wrong|nonexistent|non-existent|incorrect) (destination |final delivery |recipient |local |mailbox )?(user(id)?|recipient|mailbox|destination|address|account)` +
		`|user (does not|doesn.?t) exist|(doesn.?t|does not|don.?t) have an? .{0,60}account|no (mailbox|account|user|valid recipients?)( exists| here| by| with)|no mail ?box|not a (valid|known) (mailbox|user|recipient|account|address)|not listed in .{0,30}directory|no matches to nameserver|final email delivery point|(account|mailbox|user) .{0,60}(disabled|inactive|deactivated|discontinued|no longer (active|available|valid|exists|in use))|(wrong|address) or no longer valid|(email )?account that you tried to reach (does not exist|is disabled)|did not exactly match an? .{0,20}address|address.{0,60}(couldn.?t|could not) be found|n.existe pas|unbekannt|usuario desconocido|destinataire inconnu`)
	deadDomain = regexp.MustCompile(`(?i)(no such|unknown|invalid|bad|non-?existent) (domain|host)|(domain|host)( or domain name| name)?( is)? (does not exist|doesn.?t exist|not found|unknown|invalid)|domain of .{0,80}(does not exist|not found)|unrout(e)?able|no (valid )?(mx|mail exchanger)|null ?mx|does(n.t| not) accept (any )?(mail|e-mail)|(point|resolve)s? to non-?existent|illegal host|could not find a gateway|name or service not known|nxdomain|host lookup did not complete: host not found`)

	// A whole address says nothing, whatever it is made of: spam.me@..., a page
	// of the host about its policy.
	noise = regexp.MustCompile(`<[^<>\s]*>|\S+@\S+|https?://\S+`)
)

// enhancedRule sorts by the enhanced status code (RFC 3463 and its registry). What
// is general is not here: the words decide.
var enhancedRule = []struct {
	code *regexp.Regexp
	kind Kind
}{
	{regexp.MustCompile(`^4\.`), Passing},
	{regexp.MustCompile(`^5\.7\.2\d$`), Ours}, // RFC 7372: SPF, DKIM, reverse DNS
	{regexp.MustCompile(`^5\.7\.`), Policy},
	{regexp.MustCompile(`^5\.1\.[78]$`), Ours}, // about the sender's address
	{regexp.MustCompile(`^5\.2\.2$`), Passing}, // a full mailbox may be emptied
	{regexp.MustCompile(`^5\.(2\.3|3\.4)$`), TooBig},
	{regexp.MustCompile(`^5\.4\.(4|310)$`), Address},            // the place cannot be found
	{regexp.MustCompile(`^5\.4\.(7|300|316|312)$`), Passing},    // delivery time expired
	{regexp.MustCompile(`^5\.1\.([2-6]|9|10|\d{3})$`), Address}, // one code, one meaning
}

// generalDead are the codes that hosts send with whatever they refuse.
var generalDead = regexp.MustCompile(`^5\.(1\.[01]|2\.1)$`)

// Of sorts a reply, from a server or in a bounce: the reply code, then the
// enhanced status code where it means one thing, then the words, then the codes
// that mean a dead address unless the words say otherwise.
func Of(code int, enhanced, text string) Kind {
	switch {
	case code/100 == 4:
		return Passing
	case code == 530 || code == 534 || code == 535 || code == 538: // RFC 4954: sign in, or differently
		return Ours
	case code/100 == 5 && len(enhanced) > 0 && enhanced[0] != '5':
		enhanced = "" // of another server than the one that said no
	}
	for _, r := range enhancedRule {
		if r.code.MatchString(enhanced) {
			return r.kind
		}
	}
	text = noise.ReplaceAllString(text, " ")
	if deadDomain.MatchString(text) && !tryAgain.MatchString(text) && !aboutUs.MatchString(text) {
		return Address
	}
	for _, r := range before {
		if r.words.MatchString(text) {
			return r.kind
		}
	}
	switch {
	case generalDead.MatchString(enhanced), deadWords.MatchString(text):
		return Address
	case code == 552:
		return Passing
	}
	return Unclear
}

var (
	tryAgain = regexp.MustCompile(`(?i)try again|temporar|timed? out`)
	aboutUs  = regexp.MustCompile(`(?i)sender|helo|ehlo|client|reverse`)
)
