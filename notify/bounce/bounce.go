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
	Notice    Kind = "notice"     // a report about the mail's signature, or that it is no spam
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

// Failed reports whether the letter did not reach its reader, or not as one that
// was wanted.
func (b *Bounce) Failed() bool {
	switch b.Kind {
	case AutoReply, Delivered, Delayed, Notice:
		return false
	}
	return true
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
	if b.Kind == Complaint { // a provider's own form: it is in the returned letter's header
		return b, nil
	}
	if status := msg.find("message/delivery-status", "message/global-delivery-status"); status != nil && b.report(status) {
		if b.Kind == Unclear {
			b.inWords(msg)
		}
		return b, nil
	}
	if inner := msg.inner(); inner != nil && b.report(inner) {
		return b, nil
	}
	if fields := statusFields.FindIndex(msg.text()); fields != nil && looksReturned(msg) && b.report(&mimePart{body: msg.text()[fields[0]:]}) {
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
	// One with a subject in a language that we do not know says why all the same.
	if (msg.mediaType == "multipart/report" || returnedFrom.MatchString(msg.first("from"))) && b.plain(msg) && b.Kind != Unclear {
		return b, nil
	}
	return Bounce{}, ErrNotBounce
}

// statusFields finds the fields of a delivery report in running text, where the
// parts could not be told apart.
var statusFields = regexp.MustCompile(`(?im)^(original|final)-recipient: *rfc822 *;`)

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
	if to := addressPattern.FindString(inner.first("x-hmxmroriginalrecipient")); to != "" {
		// Microsoft's junk mail reports: the letter as it was, with this field added
		// (common practice, no source).
		b.Kind, b.Recipient, b.Diagnostic = Complaint, to, "junk mail report"
		return
	}
	if to := addressPattern.FindString(inner.first("to")); b.Recipient == "" {
		b.Recipient = to
	}
}

// complaint reads a feedback report (RFC 5965). That a signature failed (RFC
// 6591) or that a letter was taken for spam wrongly (RFC 6430) is no complaint.
func (b *Bounce) complaint(p *mimePart) {
	fields := scanFields(p.body)
	b.Kind = Complaint
	switch strings.ToLower(strings.TrimSpace(fields.first("feedback-type"))) {
	case "not-spam", "auth-failure", "dmarc":
		b.Kind = Notice
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
	return autoReplySubject.MatchString(p.subject()) && !returnedSubject.MatchString(p.subject())
}

var (
	autoReplySubject = regexp.MustCompile(`(?i)^\s*(out of (the )?office|automatic reply|auto(matic)?[- ]?(reply|response)|vacation|abwesen|absence)`)
	returnedSubject  = regexp.MustCompile(`(?i)undeliver|not (been )?delivered|deliver(y|ed)?.*(fail|status|problem|error)|fail(ed|ure).*(deliver|notice|notification|mail)|return(ed|ing).*(mail|message|sender)|mail.*(fail|error|could not)|could not be delivered|failure notice|user unknown`)
	returnedFrom     = regexp.MustCompile(`(?i)(mailer-daemon|mdaemon|postmaster|mail delivery (system|subsystem)|system administrator|\bndr@)`)
)

// looksReturned reports whether a mail system wrote the message about one that
// it could not deliver.
func looksReturned(p *mimePart) bool {
	return len(p.header["x-failed-recipients"]) > 0 || bySystem(p) && returnedSubject.MatchString(p.subject())
}

// bySystem reports whether a mail system wrote the message, and no person.
func bySystem(p *mimePart) bool {
	back := strings.TrimSpace(p.first("return-path"))
	return back == "<>" || returnedFrom.MatchString(back) || returnedFrom.MatchString(p.first("from")) || p.mediaType == "multipart/report"
}
