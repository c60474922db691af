package send

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/emersion/go-smtp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
)

// quitTimeout is how long a farewell may take.
const quitTimeout = 5 * time.Second

// stage says how far an attempt came.
type stage string

const (
	atConnect stage = "connect"
	atMail    stage = "MAIL"
	atRcpt    stage = "RCPT"
	atData    stage = "DATA"
	atBody    stage = "body"
	atMark    stage = "mark"
	atDot     stage = "final dot"
)

// failure is an attempt that ended without acceptance.
type failure struct {
	at  stage
	err error
}

// errNoLease is a letter whose dot was not sent because it no longer might.
var errNoLease = errors.New(noLease)

// cutShort reports whether another lane's stop broke the attempt off before its
// dot, with nothing said about the letter.
func (f *failure) cutShort(ctx context.Context) bool {
	var reply *smtp.SMTPError
	return context.Cause(ctx) == errStopped && f.at != atMark && f.at != atDot && !errors.As(f.err, &reply)
}

// attempt brings one letter to the server and says what became of it.
func (s *Sender) attempt(ctx context.Context, l *link, letter *schedule.Message, now func() time.Time) verdict {
	if !letter.NotAfter.IsZero() && now().After(letter.NotAfter) {
		return verdict{outcome: schedule.Outcome{State: schedule.MessageExpired, Answer: "its last useful day was over before it could be sent"}}
	}
	if ctx.Err() != nil {
		return verdict{unbegun: true}
	}
	before, cancel := context.WithTimeout(ctx, s.cfg.BeforeDot)
	defer cancel()
	if l.open() && l.carried >= s.cfg.PerConnection {
		l.quit()
	}
	reused := l.open()
	answer, f := s.hand(before, l, letter, now)
	if reused && f != nil && f.at == atMail && connectionGone(f.err) {
		// The server had had enough of that connection; the letter had not
		// begun. One fresh connection decides.
		l.kill()
		answer, f = s.hand(before, l, letter, now)
	}
	if f == nil {
		l.carried++
		return verdict{outcome: schedule.Outcome{State: schedule.MessageSent, Code: 250, Enhanced: leadingEnhanced(answer), Answer: answer}}
	}
	s.tidy(l, f)
	if f.cutShort(ctx) || f.err == errNoLease {
		return verdict{unbegun: true}
	}
	return s.judge(letter, f, now())
}

// hand takes the letter through MAIL, RCPT, DATA and the final dot. Between
// the last line and the dot the outbox is told.
func (s *Sender) hand(before context.Context, l *link, letter *schedule.Message, now func() time.Time) (string, *failure) {
	if !l.open() {
		if err := s.connect(before, l); err != nil {
			return "", &failure{atConnect, err}
		}
	}
	raw := l.raw
	leash := context.AfterFunc(before, func() { raw.Close() })
	defer leash()
	if err := l.client.Mail(s.cfg.ReturnPath(letter), &smtp.MailOptions{Size: int64(len(letter.Raw))}); err != nil {
		return "", &failure{atMail, err}
	}
	if err := l.client.Rcpt(letter.To, nil); err != nil {
		return "", &failure{atRcpt, err}
	}
	data, err := l.client.Data()
	if err != nil {
		return "", &failure{atData, err}
	}
	if _, err := data.Write(letter.Raw); err != nil {
		return "", &failure{atBody, err}
	}
	if !leash() {
		return "", &failure{atBody, context.Cause(before)}
	}
	return s.dot(context.WithoutCancel(before), raw.Close, data, letter, now)
}

// dot commits that the dot goes out, sends it and waits for the answer. From
// here on a shutdown waits too: breaking off would leave the letter uncertain.
func (s *Sender) dot(ctx context.Context, closeSocket func() error, data *smtp.DataCommand, letter *schedule.Message, now func() time.Time) (string, *failure) {
	mark, cancel := context.WithTimeout(ctx, s.cfg.Bookkeeping)
	defer cancel()
	if err := s.box.MarkDot(mark, letter.ID, letter.LeaseToken, now()); err != nil {
		return "", &failure{atMark, fmt.Errorf("mark letter %d before its final dot: %w", letter.ID, err)}
	}
	if !s.cfg.MaySend() { // last of all: this process may have been stopped since it claimed the letter
		return "", &failure{atMark, errNoLease}
	}
	wait, cancel := context.WithTimeout(ctx, s.cfg.AfterDot+time.Minute)
	defer cancel()
	stop := context.AfterFunc(wait, func() { closeSocket() })
	defer stop()
	answer, err := data.CloseWithResponse()
	if err == nil {
		return words.OneLine(answer.StatusText), nil
	}
	var reply *smtp.SMTPError
	if errors.As(err, &reply) && reply.Code/100 == 2 {
		return words.OneLine(reply.Message), nil // accepted, in a code of the server's own
	}
	return "", &failure{atDot, err}
}

// tidy leaves the connection ready for the next letter, or closes it.
func (s *Sender) tidy(l *link, f *failure) {
	var reply *smtp.SMTPError
	refused := errors.As(f.err, &reply) && reply.Code >= 400 && reply.Code != 421
	switch {
	case !l.open():
	case !refused || f.at == atBody || f.at == atMark:
		l.kill()
	case f.at == atDot: // the answer to the dot ended the transaction
	default:
		if l.client.Reset() != nil {
			l.kill()
		}
	}
}

// connectionGone reports whether a connection that had worked was given up.
func connectionGone(err error) bool {
	var reply *smtp.SMTPError
	return !errors.As(err, &reply) || reply.Code == 421
}

var enhancedCode = regexp.MustCompile(`^[245]\.\d{1,3}\.\d{1,3}$`)

// leadingEnhanced takes the enhanced status code off the front of an answer.
func leadingEnhanced(answer string) string {
	word, _, _ := strings.Cut(answer, " ")
	if enhancedCode.MatchString(word) {
		return word
	}
	return ""
}
