package bounce

import (
	"cmp"
	"regexp"
	"strconv"
	"strings"

	"bellbuoy/notify/internal/refusal"
	"bellbuoy/schedule/words"
)

// report reads the machine's part of a delivery report: fields about the
// message, then after each blank line fields about one recipient. Our letters
// have one recipient; of several the first that failed counts.
func (b *Bounce) report(p *mimePart) bool {
	found := false
	for _, group := range strings.Split(lfOnly(p.body), "\n\n") {
		f := scanFields([]byte(group))
		action := strings.ToLower(strings.TrimSpace(f.first("action")))
		status := quotedStatus(f.first("status"))
		if action == "" && status == "" || found && action != "failed" {
			continue
		}
		if found && (b.Kind != Delayed && b.Kind != Delivered) {
			continue
		}
		found = true
		b.recipient(f, action, status)
	}
	return found
}

// recipient takes one recipient's fields.
func (b *Bounce) recipient(f fields, action, status string) {
	for _, name := range []string{"original-recipient", "final-recipient"} {
		_, value, typed := strings.Cut(f.first(name), ";")
		if !typed {
			value = f.first(name)
		}
		if to := addressPattern.FindString(value); to != "" {
			b.Recipient = to
			break
		}
	}
	kind, said, typed := strings.Cut(f.first("diagnostic-code"), ";")
	if !typed {
		said = kind
	}
	b.Diagnostic = words.OneLine(said)
	last := lastSaid(b.Diagnostic)
	b.Code = quotedCode(last)
	// A relay reports in its own words; what the last server said it knows
	// better.
	b.Status = cmp.Or(quotedStatus(last), status)
	switch {
	case action == "delayed":
		b.Kind = Delayed
	case action == "delivered" || action == "relayed" || action == "expanded":
		b.Kind = Delivered
	default:
		// Some write the words behind the status: "5.0.0 (disk quota reached)".
		b.Kind = kindOf(b.Code, b.Status, last+" "+f.first("status")+" "+f.first("action"))
	}
}

var (
	// Neither may be a piece of an IP address or of a telephone number.
	statusInText = regexp.MustCompile(`(?:^|[^\d.])([245]\.\d{1,3}\.\d{1,3})(?:$|[^\d.]|\.(?:\D|$))`)
	codeInText   = regexp.MustCompile(`(?:^|[^\d.])([45][0-5]\d)(?:[ #:]|-(?:\D|\d\.|$)|$)`)
	// What comes before what another server said.
	saidMark = regexp.MustCompile(`(?i)\b(said|replied|responded|returned)( an error)?:?\s|->|\bLED=|last error:?`)
)

// quotedStatus finds an enhanced status code in a server's words, "" if there is
// none.
func quotedStatus(text string) string {
	if m := statusInText.FindStringSubmatch(text); m != nil {
		return m[1]
	}
	return ""
}

// quotedCode finds a reply code in a server's words.
func quotedCode(text string) int {
	m := codeInText.FindStringSubmatch(text)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1]) // three digits
	return n
}

// lastSaid is what the last of several servers said, if a code tells where that
// begins; else all of it.
func lastSaid(text string) string {
	all := saidMark.FindAllStringIndex(text, -1)
	for i := len(all) - 1; i >= 0; i-- {
		if tail := text[all[i][1]:]; quotedCode(tail) != 0 || quotedStatus(tail) != "" {
			return tail
		}
	}
	return text
}

// kindOf sorts a failure as a server's reply is sorted. What a relay gave up
// after days of trying is soft: the address may work again.
func kindOf(code int, status, text string) Kind {
	switch refusal.Of(code, status, text) {
	case refusal.Address:
		return Dead
	case refusal.Passing:
		return Soft
	case refusal.Ours, refusal.TooBig:
		return Ours
	case refusal.Policy:
		return Policy
	}
	return Unclear
}

// inWords asks the words for people why a letter failed, where the report for
// machines says only that it did.
func (b *Bounce) inWords(p *mimePart) {
	head, _ := beforeQuoted(lfOnly(p.text()))
	said := words.OneLine(diagnosticOf(head))
	b.Diagnostic = cmp.Or(b.Diagnostic, said)
	b.Kind = kindInWords(b.Status, said, head)
}

// kindInWords sorts a failure by the line that names it and, where that tells
// nothing, by all that stands before the returned letter.
func kindInWords(status, diagnostic, head string) Kind {
	last := lastSaid(diagnostic)
	if k := kindOf(quotedCode(last), cmp.Or(quotedStatus(last), status), last); k != Unclear {
		return k
	}
	return kindOf(0, "", words.OneLine(head))
}

// beforeQuoted cuts the words for people at the returned letter.
func beforeQuoted(text string) (head, quoted string) {
	if i := quotedMessage.FindStringIndex(text); i != nil {
		return text[:i[0]], text[i[1]:]
	}
	return text, ""
}

// plain reads a bounce in words. The words before the quoted letter count.
func (b *Bounce) plain(p *mimePart) bool {
	if to := addressPattern.FindString(p.first("x-failed-recipients")); to != "" {
		b.Recipient = to
	}
	head, quoted := beforeQuoted(lfOnly(p.text()))
	if to := addressPattern.FindString(head); b.Recipient == "" {
		b.Recipient = to
	}
	if m := quotedID.FindStringSubmatch(quoted); b.MessageID == "" && m != nil {
		b.MessageID = m[1]
	}
	b.Diagnostic = words.OneLine(diagnosticOf(head))
	b.Status, b.Code = quotedStatus(lastSaid(b.Diagnostic)), quotedCode(lastSaid(b.Diagnostic))
	b.Kind = kindInWords("", b.Diagnostic, p.subject()+"\n"+head)
	if delayedWords.MatchString(head) || delayedWords.MatchString(p.subject()) {
		b.Kind = Delayed
	}
	return b.Recipient != "" || b.Status != "" || b.Code != 0 || b.MessageID != ""
}

var (
	quotedMessage = regexp.MustCompile(`(?im)^-+ ?(below this line is a copy of the message|this is a copy of (the|your) message|original message|.*message headers?.*|returned message|transcript of session follows -+\s*\z).*$`)
	quotedID      = regexp.MustCompile(`(?im)^message-id:\s*<([^<>\s]+)>`)
	delayedWords  = regexp.MustCompile(`(?i)\b(delayed|delivery (is )?delayed|still being (re)?tried|will (continue|keep) (to )?try|not been delivered yet)\b`)
)

// diagnosticOf picks the line with a code, else the line after the address.
func diagnosticOf(text string) string {
	lines := strings.Split(text, "\n")
	for _, l := range lines {
		if quotedStatus(l) != "" || quotedCode(l) != 0 {
			return l
		}
	}
	for i, l := range lines {
		if addressPattern.MatchString(l) && i+1 < len(lines) {
			return strings.TrimSpace(l + " " + lines[i+1])
		}
	}
	return ""
}
