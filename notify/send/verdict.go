package send

import (
	"errors"
	"fmt"
	"time"

	"github.com/emersion/go-smtp"

	"bellbuoy/notify/internal/refusal"
	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
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
// Without a refusal, before the final dot the letter is tried again, after it nobody
// can know (RFC 1047). With one the server's word counts, and whose fault it names. A
// yes where another was due is no refusal: the two sides have lost step.
func (s *Sender) judge(l *schedule.Message, f *failure, now time.Time) verdict {
	o := schedule.Outcome{Answer: words.OneLine(f.err.Error())}
	var reply *smtp.SMTPError
	replied := errors.As(f.err, &reply)
	refused := replied && reply.Code >= 400
	if replied {
		o.Code, o.Enhanced, o.Answer = reply.Code, enhancedString(reply.EnhancedCode), words.OneLine(reply.Message)
	}
	var v verdict
	switch {
	case f.at == atDot && !refused:
		o.State = schedule.MessageUncertain
	case f.at == atMark:
		return verdict{err: f.err}
	case errors.Is(f.err, errSignIn) && !(refused && reply.Code/100 == 4):
		o.PauseQueue = true
		s.deferTo(&o, l, now)
	case !refused:
		s.deferTo(&o, l, now)
	default:
		v.policy = s.judgeReply(&o, l, f.at, now)
	}
	if f.at == atConnect && o.State == schedule.MessageDeferred {
		o.State = schedule.MessageQueued // it was never begun: no attempt is lost
	}
	v.outcome = o
	switch {
	case o.PauseQueue:
		v.stop = "the server refuses us: " + o.Answer
	case f.at == atConnect || o.Code == 421:
		v.stop, v.unreached = "the server cannot be reached: "+o.Answer, f.at == atConnect
	}
	return v
}

// judgeReply sorts a refusal by whose fault it is, and reports whether it is for
// a policy that may be one mailbox's own.
func (s *Sender) judgeReply(o *schedule.Outcome, l *schedule.Message, at stage, now time.Time) (policy bool) {
	switch whose := refusal.Of(o.Code, o.Enhanced, o.Answer); {
	case whose == refusal.TooBig:
		o.State = schedule.MessageRefused
	case whose == refusal.Passing:
		s.deferTo(o, l, now)
	case whose == refusal.Ours || at == atMail || at == atConnect:
		// What is said before the recipient was named is about us.
		o.PauseQueue = true
		s.deferTo(o, l, now)
	default:
		o.State, o.Suppress = schedule.MessageRefused, whose == refusal.Address
		return whose == refusal.Policy
	}
	return false
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
func (s *Sender) deferTo(o *schedule.Outcome, l *schedule.Message, now time.Time) {
	o.State, o.NextAt = schedule.MessageDeferred, now.Add(retryWait(l.Attempts, s.cfg.Jitter()))
	end := l.NotAfter
	if !l.QueuedAt.IsZero() && (end.IsZero() || l.QueuedAt.Add(giveUpAfter).Before(end)) {
		end = l.QueuedAt.Add(giveUpAfter)
	}
	if !end.IsZero() && o.NextAt.After(end) {
		o.State, o.NextAt = schedule.MessageExpired, time.Time{}
	}
}

// enhancedString writes an enhanced status code, "" for none.
func enhancedString(c smtp.EnhancedCode) string {
	if c[0] <= 0 {
		return ""
	}
	return fmt.Sprintf("%d.%d.%d", c[0], c[1], c[2])
}
