package send

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"

	"bellbuoy/schedule"
)

// Outbox is where letters wait. Claim leases the next letter that is due and
// answers [schedule.ErrNone] when there is none; the later calls show the lease's
// token and answer [schedule.ErrLostLease] when the letter is no longer theirs.
type Outbox interface {
	Claim(ctx context.Context, now time.Time, lease time.Duration) (schedule.Message, error)
	// MarkDot commits that the final dot is about to go out. A lease that ends
	// before it is tried again, one that ends after it is uncertain.
	MarkDot(ctx context.Context, id int64, token string, now time.Time) error
	RecordOutcome(ctx context.Context, id int64, token string, o schedule.Outcome, now time.Time) error
	// BelieveDead suppresses the addresses of the letters that were recorded as
	// refused for them and are not in doubt.
	BelieveDead(ctx context.Context, now time.Time) error
	// Brake pauses the queue.
	Brake(ctx context.Context, b schedule.Brake, now time.Time) error
}

// The ways to secure the connection to the mail server.
const (
	StartTLS = "starttls" // plain at first, then TLS or nothing
	TLS      = "tls"      // from the first byte
	NoTLS    = "none"     // for a server on this machine or a closed network
)

// Config says how letters reach the shop's mail server.
type Config struct {
	Server   string // host:port
	Security string // StartTLS, TLS or NoTLS
	TLS      *tls.Config
	Hello    string // our name in EHLO, a full domain name
	Auth     string // "plain", "login", "xoauth2", "" for none
	User     string
	// Secret gives the password, or for xoauth2 the access token of the moment.
	Secret func(context.Context) (string, error)
	// ReturnPath gives a letter's envelope sender; nil takes Message.From.
	ReturnPath func(*schedule.Message) string
	// MaySend is asked before each letter is claimed and again before its final dot;
	// nil always may. Several goroutines ask.
	MaySend func() bool
	// Dial opens the connection; nil dials TCP.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)
	// Jitter gives numbers from 0 to below 1 that spread repeated attempts.
	Jitter func() float64

	// Command bounds the wait for each answer, BeforeDot everything up to the
	// final dot, AfterDot the wait for the answer to it, Bookkeeping each call
	// of the outbox that must not be cut short. Zero takes the usual: 5, 8 and
	// 12 minutes (RFC 5321 4.5.3.2 asks for 5 and 10), and half a minute.
	Command, BeforeDot, AfterDot, Bookkeeping time.Duration
	// PerConnection is how many letters one connection carries; 0 is 100.
	PerConnection int
	// Lanes is how many connections there are at once at the most; 0 is
	// usualLanes to this machine and one to any other.
	Lanes int
}

// Sender takes letters from an outbox to a mail server, one recipient a letter
// and stage by stage, so that at every moment the outbox knows whether a letter
// can have arrived. One Sender drains one outbox over one or several
// connections; calls of Drain queue up.
type Sender struct {
	box    Outbox
	cfg    Config
	mu     sync.Mutex
	lately answers
}

// New checks the settings; it does not connect.
func New(box Outbox, cfg Config) (*Sender, error) {
	host, _, err := net.SplitHostPort(cfg.Server)
	if err != nil {
		return nil, fmt.Errorf("mail server %q: %w; want host:port, for example smtp.example.com:587", cfg.Server, err)
	}
	switch cfg.Security {
	case StartTLS, TLS, NoTLS:
	default:
		return nil, fmt.Errorf("mail security %q: want starttls, tls or none", cfg.Security)
	}
	switch cfg.Auth {
	case "":
	case "plain", "login", "xoauth2":
		if cfg.Security == NoTLS && !Loopback(host) {
			return nil, fmt.Errorf("mail server %q: signing in without TLS would show the password to the network; set the security to starttls or tls", cfg.Server)
		}
		if cfg.Secret == nil {
			return nil, fmt.Errorf("mail sign-in %q: the password is missing", cfg.Auth)
		}
	default:
		return nil, fmt.Errorf("mail sign-in %q: want plain, login, xoauth2 or nothing", cfg.Auth)
	}
	cfg.TLS = tlsFor(cfg.TLS, host)
	setDefaults(&cfg, host)
	return &Sender{box: box, cfg: cfg}, nil
}

// Loopback reports whether a host is this machine: a password shown to it goes
// nowhere.
func Loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || (ip != nil && ip.IsLoopback())
}

func tlsFor(given *tls.Config, host string) *tls.Config {
	c := &tls.Config{MinVersion: tls.VersionTLS12}
	if given != nil {
		c = given.Clone()
	}
	if c.ServerName == "" {
		c.ServerName = host
	}
	return c
}

func setDefaults(cfg *Config, host string) {
	for d, usual := range map[*time.Duration]time.Duration{
		&cfg.Command: 5 * time.Minute, &cfg.BeforeDot: 8 * time.Minute,
		&cfg.AfterDot: 12 * time.Minute, &cfg.Bookkeeping: 30 * time.Second,
	} {
		if *d == 0 {
			*d = usual
		}
	}
	if cfg.Hello == "" {
		cfg.Hello = "localhost"
	}
	if cfg.PerConnection == 0 {
		cfg.PerConnection = 100
	}
	if cfg.Lanes == 0 {
		cfg.Lanes = 1
		if Loopback(host) {
			cfg.Lanes = usualLanes
		}
	}
	if cfg.Dial == nil {
		cfg.Dial = new(net.Dialer).DialContext
	}
	if cfg.Jitter == nil {
		cfg.Jitter = func() float64 { return 0.5 }
	}
	if cfg.MaySend == nil {
		cfg.MaySend = func() bool { return true }
	}
	if cfg.ReturnPath == nil {
		cfg.ReturnPath = func(l *schedule.Message) string { return l.From }
	}
}

// Result counts what became of the letters of one Drain.
type Result struct {
	Sent, Deferred, Refused, Uncertain, Expired int // deferred: or put back, as there was no connection
	// Stopped says why Drain ended before the outbox was empty or max was
	// reached; "" if it did not.
	Stopped string
}

// Drain sends letters until the outbox has none that is due, max are done, or
// the server or the context says stop: then letters that are at their dot are
// seen through and others are put back. now gives the moment, for the outbox; it
// is asked by several goroutines. An error is the outbox's; what the mail server
// does is an outcome.
func (s *Sender) Drain(ctx context.Context, now func() time.Time, max int) (Result, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	d := &drain{Sender: s, now: now, cancel: cancel, left: max}
	s.lately.begin()
	d.start(ctx)
	d.wg.Wait()
	if d.err == nil && !d.braked {
		d.err = s.bookkeep(ctx, func(ctx context.Context) error { return s.box.BelieveDead(ctx, now()) })
	}
	return d.res, d.err
}

// bookkeep lets the outbox write what a shutdown must not undo.
func (s *Sender) bookkeep(ctx context.Context, write func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.cfg.Bookkeeping)
	defer cancel()
	return write(ctx)
}

// record writes down what became of a letter. A shutdown must not undo that.
func (s *Sender) record(ctx context.Context, l *schedule.Message, o schedule.Outcome, now time.Time) error {
	err := s.bookkeep(ctx, func(ctx context.Context) error { return s.box.RecordOutcome(ctx, l.ID, l.LeaseToken, o, now) })
	if errors.Is(err, schedule.ErrLostLease) && (o.State == schedule.MessageQueued || o.State == schedule.MessageDeferred) {
		return nil // its customer asked to stop meanwhile, and it has not gone out
	}
	if err != nil {
		return fmt.Errorf("email %d is %s, but that could not be recorded: %w", l.ID, o.State, err)
	}
	return nil
}

// Add counts the letters of a later drain too.
func (r *Result) Add(more Result) {
	r.Sent += more.Sent
	r.Deferred += more.Deferred
	r.Refused += more.Refused
	r.Uncertain += more.Uncertain
	r.Expired += more.Expired
	r.Stopped = more.Stopped
}

func (r *Result) count(s schedule.MessageState) {
	switch s {
	case schedule.MessageSent:
		r.Sent++
	case schedule.MessageDeferred, schedule.MessageQueued:
		r.Deferred++
	case schedule.MessageRefused:
		r.Refused++
	case schedule.MessageUncertain:
		r.Uncertain++
	case schedule.MessageExpired:
		r.Expired++
	}
}
