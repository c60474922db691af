package send

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// link is a connection to the mail server, empty while there is none.
type link struct {
	raw     net.Conn
	client  *smtp.Client
	carried int // letters accepted on it
}

func (l *link) open() bool { return l.client != nil }

// kill closes the socket without a further word. After a failed write nothing
// else may be sent: any command, QUIT too, would first end the message with a
// dot, and the server would accept what is there.
func (l *link) kill() {
	if l.raw != nil {
		l.raw.Close()
	}
	*l = link{}
}

// quit takes leave politely of a connection that is between letters.
func (l *link) quit() {
	if l.open() {
		l.client.CommandTimeout = min(quitTimeout, l.client.CommandTimeout)
		if l.client.Quit() == nil {
			*l = link{}
		}
	}
	l.kill()
}

// connect opens and secures a connection and signs in.
func (s *Sender) connect(ctx context.Context, l *link) error {
	raw, err := s.cfg.Dial(ctx, "tcp", s.cfg.Server)
	if err != nil {
		return fmt.Errorf("connect to %s: %w", s.cfg.Server, err)
	}
	stop := context.AfterFunc(ctx, func() { raw.Close() })
	defer stop()
	client, err := s.greet(ctx, raw)
	if err == nil {
		err = s.signIn(ctx, client)
	}
	if err != nil {
		raw.Close()
		return err
	}
	*l = link{raw: raw, client: client}
	return nil
}

// greet brings the connection to where commands may follow.
func (s *Sender) greet(ctx context.Context, raw net.Conn) (*smtp.Client, error) {
	var client *smtp.Client
	switch s.cfg.Security {
	case TLS:
		conn := tls.Client(raw, s.cfg.TLS)
		if err := conn.HandshakeContext(ctx); err != nil {
			return nil, fmt.Errorf("secure the connection to %s: %w", s.cfg.Server, err)
		}
		client = smtp.NewClient(conn)
	case StartTLS:
		var err error
		if client, err = smtp.NewClientStartTLS(raw, s.cfg.TLS); err != nil {
			return nil, fmt.Errorf("secure the connection to %s: %w", s.cfg.Server, err)
		}
	default:
		client = smtp.NewClient(raw)
	}
	client.CommandTimeout, client.SubmissionTimeout = s.cfg.Command, s.cfg.AfterDot
	if err := client.Hello(s.cfg.Hello); err != nil {
		return nil, fmt.Errorf("greet %s: %w", s.cfg.Server, err)
	}
	return client, nil
}

// errSignIn marks a failure that only a person can mend.
var errSignIn = errors.New("sign in to the mail server")

func (s *Sender) signIn(ctx context.Context, client *smtp.Client) error {
	if s.cfg.Auth == "" {
		return nil
	}
	secret, err := s.cfg.Secret(ctx)
	if err != nil {
		return fmt.Errorf("%w as %q: %w", errSignIn, s.cfg.User, err)
	}
	var how sasl.Client
	switch s.cfg.Auth {
	case "plain":
		how = sasl.NewPlainClient("", s.cfg.User, secret)
	case "login":
		how = &login{answers: []string{s.cfg.User, secret}}
	default:
		how = XOAuth2(s.cfg.User, secret)
	}
	err = client.Auth(how)
	var reply *smtp.SMTPError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &reply) && reply.Code >= 400:
		return fmt.Errorf("%w as %q: %w", errSignIn, s.cfg.User, err)
	}
	// The line broke, or what came was no answer: that passes by itself.
	return fmt.Errorf("the connection to %s failed while signing in as %q: %w", s.cfg.Server, s.cfg.User, err)
}

// login is the mechanism LOGIN, which no RFC describes: the server asks twice,
// in words of its own, for the name and for the password. The name is not sent
// along at once, as the usual library does: some servers then ask for it again.
type login struct{ answers []string }

// Start gives the mechanism's name and no first word.
func (l *login) Start() (mech string, ir []byte, err error) { return "LOGIN", nil, nil }

// Next gives the next answer.
func (l *login) Next([]byte) ([]byte, error) {
	if len(l.answers) == 0 {
		return nil, errors.New("the server asks for more than a name and a password")
	}
	answer := l.answers[0]
	l.answers = l.answers[1:]
	return []byte(answer), nil
}

// XOAuth2 signs a user in with an access token, for mail servers of both kinds.
func XOAuth2(user, token string) sasl.Client { return &xoauth2{user: user, token: token} }

// xoauth2 is the mechanism by which the large mail hosts take an access token.
// The format is theirs, published by both (from memory).
type xoauth2 struct{ user, token string }

// Start gives the mechanism's name and the first and only word.
func (x *xoauth2) Start() (mech string, ir []byte, err error) {
	return "XOAUTH2", []byte("user=" + x.user + "\x01auth=Bearer " + x.token + "\x01\x01"), nil
}

// Next answers the server's account of a failure with nothing, as it asks.
func (x *xoauth2) Next([]byte) ([]byte, error) { return []byte{}, nil }
