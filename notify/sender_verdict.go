package notify

import (
	"errors"
	"fmt"
	"regexp"
	"time"

	"github.com/emersion/go-smtp"

	"bellbuoy/schedule"
)

// verdict is what an attempt comes to: the letter's outcome, and why the whole
// drain should stop, if it should. With err the outbox itself failed before the
// dot: the letter did not go out and its lease is left to run out.
type verdict struct {
	outcome   schedule.Outcome
	stop      string
	unreached bool // stop is only that there was no connection
	policy    bool // refused for a policy that may be one mailbox's own
	unbegun   bool // there is no outcome: the letter was not sent because of a stop
	err       error
}

// judge turns a failure into an outcome.
//
// Without a reply nothing was refused: before the final dot the letter is tried
// again, after it nobody can know (RFC 1047). With a reply the server's word
// counts, and whose fault it names.
func (s *Sender) judge(l *schedule.Letter, f *failure, now time.Time) verdict {
	o := schedule.Outcome{Answer: oneLine(f.err.Error())}
	var reply *smtp.SMTPError
	replied := errors.As(f.err, &reply)
	if replied {
		o.Code, o.Enhanced, o.Answer = reply.Code, enhancedString(reply.EnhancedCode), oneLine(reply.Message)
	}
	var v verdict
	switch {
	case f.at == atDot && (!replied || reply.Code/100 == 3):
		o.State = schedule.LetterUncertain
	case f.at == atMark:
		return verdict{err: f.err}
	case errors.Is(f.err, errSignIn) && (!replied || reply.Code/100 == 5):
		o.PauseQueue = true
		s.deferTo(&o, l, now)
	case !replied:
		s.deferTo(&o, l, now)
	default:
		v.policy = s.judgeReply(&o, l, f.at, now)
	}
	if f.at == atConnect && o.State == schedule.LetterDeferred {
		o.State = schedule.LetterQueued // it was never begun: no attempt is lost
	}
	v.outcome = o
	switch {
	case o.PauseQueue:
		v.stop = "the server refuses us: " + o.Answer
	case f.at == atConnect || o.Code == 421:
		v.stop, v.unreached = "the server is not to be had: "+o.Answer, f.at == atConnect
	}
	return v
}

// judgeReply sorts a refusal by whose fault it is, and reports whether it is for
// a policy that may be one mailbox's own.
func (s *Sender) judgeReply(o *schedule.Outcome, l *schedule.Letter, at stage, now time.Time) (policy bool) {
	switch whose := faultOf(o.Code, o.Enhanced, o.Answer); {
	case whose == faultTooBig:
		o.State = schedule.LetterRefused
	case whose == faultPassing:
		s.deferTo(o, l, now)
	case whose == faultOurs || at == atMail || at == atConnect:
		// What is said before the recipient was named is about us.
		o.PauseQueue = true
		s.deferTo(o, l, now)
	default:
		o.State, o.Suppress = schedule.LetterRefused, whose == faultAddress
		return whose == faultPolicy
	}
	return false
}

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
	enhancedCode = regexp.MustCompile(`^[245]\.\d{1,3}\.\d{1,3}$`)
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

// retryAfter are the waits between attempts: greylisting has passed after ten
// minutes, and RFC 5321 4.5.4.1 asks for half an hour and more from then on.
var retryAfter = [...]time.Duration{10 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 4 * time.Hour, 6 * time.Hour}

// giveUpAfter is how long a letter is tried at all, of the 4 to 5 days of
// RFC 5321 4.5.4.1.
const giveUpAfter = 4 * 24 * time.Hour

// retryWait is the wait after so many attempts, spread by a fifth either way;
// jitter is from 0 to below 1.
func retryWait(attempts int, jitter float64) time.Duration {
	i := min(max(attempts, 1), len(retryAfter)) - 1
	return time.Duration(float64(retryAfter[i]) * (0.8 + 0.4*jitter)).Round(time.Second)
}

// deferTo sets the next attempt, or gives the letter up when its time is over.
func (s *Sender) deferTo(o *schedule.Outcome, l *schedule.Letter, now time.Time) {
	o.State, o.NextAt = schedule.LetterDeferred, now.Add(retryWait(l.Attempts, s.cfg.Jitter()))
	end := l.NotAfter
	if !l.QueuedAt.IsZero() && (end.IsZero() || l.QueuedAt.Add(giveUpAfter).Before(end)) {
		end = l.QueuedAt.Add(giveUpAfter)
	}
	if !end.IsZero() && o.NextAt.After(end) {
		o.State, o.NextAt = schedule.LetterExpired, time.Time{}
	}
}

// enhancedString writes an enhanced status code, "" for none.
func enhancedString(c smtp.EnhancedCode) string {
	if c[0] <= 0 {
		return ""
	}
	return fmt.Sprintf("%d.%d.%d", c[0], c[1], c[2])
}
