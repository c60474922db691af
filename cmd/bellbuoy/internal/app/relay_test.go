package app_test

import (
	"errors"
	"io"
	"log/slog"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
)

// relay is a mail server that does with each letter what a test says.
type relay struct {
	address string

	mu sync.Mutex
	// rcpt answers a recipient, nil takes it.
	rcpt func(to string) error
	// dot answers the final dot; errDrop closes the connection without a word.
	dot func(to string) error
	// mail does so knowing the whole message, instead of dot, if it is set.
	mail  func(to string, message []byte) error
	asked []string // recipients, in order
	took  []string // those whose letter was accepted
}

var errDrop = errors.New("the line drops")

func serveRelay(t testing.TB) *relay {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &relay{address: ln.Addr().String()}
	srv := smtp.NewServer(r)
	srv.Domain, srv.ReadTimeout, srv.WriteTimeout = "localhost", time.Minute, time.Minute
	srv.ErrorLog = mute{}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = srv.Serve(ln)
	}()
	t.Cleanup(func() {
		srv.Close()
		<-done
	})
	return r
}

type mute struct{}

func (mute) Printf(string, ...any) {}
func (mute) Println(...any)        {}

// does sets what the server does from now on.
func (r *relay) does(rcpt, dot func(to string) error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.rcpt, r.dot = rcpt, dot
}

// heard are the recipients that were named and those whose letter was accepted,
// since it was last asked.
func (r *relay) heard() (asked, took []string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	asked, took = r.asked, r.took
	r.asked, r.took = nil, nil
	return asked, took
}

func (r *relay) NewSession(c *smtp.Conn) (smtp.Session, error) {
	return &relaySession{relay: r, conn: c}, nil
}

type relaySession struct {
	*relay
	conn *smtp.Conn
	to   string
}

func (s *relaySession) Reset()                               {}
func (s *relaySession) Logout() error                        { return nil }
func (s *relaySession) Mail(string, *smtp.MailOptions) error { return nil }

func (s *relaySession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.to, s.asked = to, append(s.asked, to)
	if s.rcpt == nil {
		return nil
	}
	return s.rcpt(to)
}

func (s *relaySession) Data(r io.Reader) error {
	message, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.mail != nil:
		err = s.mail(s.to, message)
	case s.dot != nil:
		err = s.dot(s.to)
	}
	if errors.Is(err, errDrop) {
		s.conn.Conn().Close()
	}
	if err != nil {
		return err
	}
	s.took = append(s.took, s.to)
	return nil
}

// saying is an answer of a mail server.
func saying(code int, enhanced smtp.EnhancedCode, words string) *smtp.SMTPError {
	return &smtp.SMTPError{Code: code, EnhancedCode: enhanced, Message: words}
}

// tick turns the daemon's round once at the shop's moment.
func (p *post) tick(r *relay) {
	p.t.Helper()
	now, log := func() time.Time { return p.now }, slog.New(slog.DiscardHandler)
	if err := errors.Join(p.Tick(p.t.Context(), now, log), p.Send(p.t.Context(), now, p.sender(r), log)); err != nil {
		p.t.Fatal(err)
	}
}

// sender is the way to a mail server, the same one for the whole test: a daemon
// keeps it too.
func (p *post) sender(r *relay) *send.Sender {
	p.t.Helper()
	if p.way == nil {
		var err error
		p.way, err = send.New(outbox.NewQueue(p.Writer()), send.Config{Server: r.address, Security: send.NoTLS, Hello: "shop.example", Lanes: p.lanes})
		if err != nil {
			p.t.Fatal(err)
		}
	}
	return p.way
}

// letters are those of the outbox, the newest first.
func (p *post) letters(q outbox.MessageQuery) []schedule.Message {
	p.t.Helper()
	all, err := outbox.Messages(p.t.Context(), p.DB, q)
	if err != nil {
		p.t.Fatal(err)
	}
	return all
}

// answers sets what the server does from now on with recipients and with whole messages.
func (r *relay) answers(rcpt func(to string) error, mail func(to string, message []byte) error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.rcpt, r.dot, r.mail = rcpt, nil, mail
}
