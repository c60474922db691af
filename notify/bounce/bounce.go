package bounce

import (
	"errors"
	"regexp"
	"strings"

	"bellbuoy/schedule/words"
)

// Kind says what a returned message means for the address.
type Kind string

// The kinds of returned message. Only [Dead] and [Complaint] end
// the mailing; [Ours] is for a person at the shop to look at.
const (
	Dead      Kind = "dead"       // no such mailbox
	Soft      Kind = "soft"       // failed, but the address may work again: full, unreachable
	Ours      Kind = "ours"       // refused for our signature, or for its size
	Policy    Kind = "policy"     // refused for a policy: this mailbox's own, or ours if others say so too
	Unclear   Kind = "unclear"    // failed without saying why
	Delayed   Kind = "delayed"    // still being tried
	Complaint Kind = "complaint"  // the customer pressed "this is spam"
	Delivered Kind = "delivered"  // good news
	AutoReply Kind = "auto-reply" // out of office, or a note that it was read
)

// Bounce is what a returned message tells.
type Bounce struct {
	Kind       Kind
	Recipient  string   // the address that failed, "" if it is not said
	MessageID  string   // of the returned letter, without brackets, "" if it is not said
	Status     string   // enhanced status code, "5.1.1"
	Code       int      // SMTP reply code, 0 if none is quoted
	Diagnostic string   // the server's words
	To         []string // the addresses that the bounce was sent to; one may be a letter's return address
}

// Suppress reports whether no further mail may go to the recipient.
func (b *Bounce) Suppress() bool { return b.Kind == Dead || b.Kind == Complaint }

// ErrNotBounce says that a message is neither a bounce, a complaint nor an
// automatic reply: a person may have written it.
var ErrNotBounce = errors.New("not a bounce: leave it for a person to read")

// Parse reads a message that came to the return address: a delivery
// report (RFC 3464), a complaint (RFC 5965), an automatic reply (RFC 3834), or
// a bounce in plain words. It never fails on broken MIME; what it cannot place
// is [ErrNotBounce]. Nothing in it is proof of who sent it: mute an address
// only if the bounce came to that letter's own return address ([VERP.Message])
// or quotes a message id that went to it.
func Parse(message []byte) (Bounce, error) {
	msg := scanPart(message, 0)
	b := Bounce{To: recipientsOf(msg)}
	msg.walk(func(p *mimePart) {
		switch p.mediaType {
		case "message/rfc822", "message/global", "text/rfc822-headers", "message/global-headers":
			b.quoted(p)
		}
	})
	if report := msg.find("message/feedback-report"); report != nil {
		b.complaint(report)
		return b, nil
	}
	if status := msg.find("message/delivery-status", "message/global-delivery-status"); status != nil && b.report(status) {
		if b.Kind == Unclear && b.Diagnostic == "" {
			b.inWords(msg)
		}
		return b, nil
	}
	// Some mail systems mark their bounces as automatic replies too.
	if looksReturned(msg) && b.plain(msg) {
		return b, nil
	}
	if isAutoReply(msg) {
		b.Kind = AutoReply
		return b, nil
	}
	return Bounce{}, ErrNotBounce
}

// recipientsOf collects the addresses that the message was delivered to.
func recipientsOf(p *mimePart) []string {
	var all []string
	for _, name := range []string{"to", "delivered-to", "x-original-to", "envelope-to"} {
		for _, v := range p.header[name] {
			all = append(all, addressPattern.FindAllString(v, 8)...)
		}
	}
	return all
}

// addressPattern finds a bare address in running text.
var addressPattern = regexp.MustCompile(`[A-Za-z0-9!#$%&'*+/=?^_{|}~.-]+@[A-Za-z0-9.-]+\.[A-Za-z0-9-]+`)

// quoted takes what the returned letter's own header says.
func (b *Bounce) quoted(p *mimePart) {
	inner := scanPart(p.body, maxParts) // its header only
	if id := inner.first("message-id"); b.MessageID == "" && id != "" {
		b.MessageID = strings.Trim(id, "<> \t")
	}
	if to := addressPattern.FindString(inner.first("to")); b.Recipient == "" {
		b.Recipient = to
	}
}

// complaint reads a feedback report: any type but "not-spam" is one.
func (b *Bounce) complaint(p *mimePart) {
	fields := scanFields(p.body)
	b.Kind = Complaint
	if strings.EqualFold(strings.TrimSpace(fields.first("feedback-type")), "not-spam") {
		b.Kind = Delivered
	}
	for _, name := range []string{"original-rcpt-to", "removal-recipient"} {
		if to := addressPattern.FindString(fields.first(name)); to != "" {
			b.Recipient = to
			break
		}
	}
	b.Diagnostic = words.OneLine(fields.first("feedback-type"))
}

// isAutoReply knows answering machines by RFC 3834 and by older habits, and
// notes that a message was read (RFC 8098).
func isAutoReply(p *mimePart) bool {
	auto := strings.ToLower(strings.TrimSpace(p.first("auto-submitted")))
	if strings.HasPrefix(auto, "auto-replied") || p.find("message/disposition-notification") != nil {
		return true
	}
	if len(p.header["x-autoreply"]) > 0 || len(p.header["x-autorespond"]) > 0 ||
		strings.EqualFold(strings.TrimSpace(p.first("precedence")), "auto_reply") {
		return true
	}
	return autoReplySubject.MatchString(p.first("subject")) && !returnedSubject.MatchString(p.first("subject"))
}

var (
	autoReplySubject = regexp.MustCompile(`(?i)^\s*(out of (the )?office|automatic reply|auto(matic)?[- ]?(reply|response)|vacation|abwesen|absence)`)
	returnedSubject  = regexp.MustCompile(`(?i)undeliver|deliver(y|ed)?.*(fail|status|problem|error)|fail(ed|ure).*(deliver|notice|notification)|return(ed|ing).*(mail|message|sender)|mail.*(fail|error|could not)|could not be delivered|failure notice`)
	returnedFrom     = regexp.MustCompile(`(?i)(mailer-daemon|postmaster|mail delivery (system|subsystem))`)
)

// looksReturned reports whether a mail system wrote the message about one that
// it could not deliver.
func looksReturned(p *mimePart) bool {
	null := strings.TrimSpace(p.first("return-path")) == "<>"
	system := returnedFrom.MatchString(p.first("from"))
	failed := len(p.header["x-failed-recipients"]) > 0
	return failed || (system || null) && returnedSubject.MatchString(p.first("subject"))
}
