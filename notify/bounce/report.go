package bounce

import (
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
		status := enhancedInText.FindString(f.first("status"))
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
	b.Code = quotedCode(b.Diagnostic)
	b.Status = status
	// A relay may report a general code while the server it spoke to gave a
	// better one.
	if inner := enhancedInText.FindString(b.Diagnostic); inner != "" && (status == "" || strings.HasSuffix(status, ".0.0")) {
		b.Status = inner
	}
	switch {
	case action == "delayed":
		b.Kind = Delayed
	case action == "delivered" || action == "relayed" || action == "expanded":
		b.Kind = Delivered
	default:
		b.Kind = kindOf(b.Code, b.Status, b.Diagnostic)
	}
}

var (
	enhancedInText = regexp.MustCompile(`\b[245]\.\d{1,3}\.\d{1,3}\b`)
	codeInText     = regexp.MustCompile(`(?:^|[^\d.])([45]\d\d)(?:[ \-#]|$)`)
)

// quotedCode finds a reply code in a server's words.
func quotedCode(text string) int {
	m := codeInText.FindStringSubmatch(text)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1]) // three digits
	return n
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
	if b.Diagnostic = words.OneLine(diagnosticOf(lfOnly(p.text()))); b.Diagnostic != "" {
		b.Kind = kindOf(quotedCode(b.Diagnostic), b.Status, b.Diagnostic)
	}
}

// plain reads a bounce in words. The words before the quoted letter count.
func (b *Bounce) plain(p *mimePart) bool {
	text := lfOnly(p.text())
	if to := addressPattern.FindString(p.first("x-failed-recipients")); to != "" {
		b.Recipient = to
	}
	head, quoted := text, ""
	if i := quotedMessage.FindStringIndex(text); i != nil {
		head, quoted = text[:i[0]], text[i[1]:]
	}
	if to := addressPattern.FindString(head); b.Recipient == "" {
		b.Recipient = to
	}
	if m := quotedID.FindStringSubmatch(quoted); b.MessageID == "" && m != nil {
		b.MessageID = m[1]
	}
	b.Status = enhancedInText.FindString(head)
	b.Code = quotedCode(head)
	b.Diagnostic = words.OneLine(diagnosticOf(head))
	b.Kind = kindOf(b.Code, b.Status, head)
	if delayedWords.MatchString(head) || delayedWords.MatchString(p.first("subject")) {
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
		if enhancedInText.MatchString(l) || quotedCode(l) != 0 {
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
