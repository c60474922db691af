package send_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/big"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"

	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
)

// script says how a mail server behaves. A rule's key is the verb it answers;
// "." is the final dot, "conn" the greeting. Each time a verb comes, the next
// of its answers is used, the last one for ever. A whole command, as "RCPT
// TO:<c3@mail.example>", goes before its verb. Beside replies there are: "drop"
// closes the connection without a word, "stall" never answers.
type script map[string][]string

// scripted is a mail server on the loopback that follows a script.
type scripted struct {
	t    *testing.T
	ln   net.Listener
	tls  *tls.Config // for STARTTLS, or from the first byte
	from bool        // TLS from the first byte
	auth bool        // offers AUTH

	mu       sync.Mutex
	rules    script
	used     map[string]int
	accepted []string // whole messages that were answered with 250
	heard    []string // every command
	conns    []net.Conn
	wg       sync.WaitGroup
	// before, if set, is called with every command before it is answered.
	before func(line string)
}

func serveScript(t *testing.T, rules script) *scripted {
	t.Helper()
	s := listenScript(t, rules)
	s.start()
	return s
}

// listenScript makes a server that is still to be set up and started.
func listenScript(t *testing.T, rules script) *scripted {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return &scripted{t: t, ln: ln, rules: rules, used: map[string]int{}}
}

func (s *scripted) start() {
	s.wg.Go(func() {
		for {
			c, err := s.ln.Accept()
			if err != nil {
				return
			}
			s.mu.Lock()
			s.conns = append(s.conns, c)
			s.mu.Unlock()
			s.wg.Go(func() { s.talk(c) })
		}
	})
	s.t.Cleanup(func() {
		s.ln.Close()
		s.mu.Lock()
		for _, c := range s.conns {
			c.Close()
		}
		s.mu.Unlock()
		s.wg.Wait()
	})
}

func (s *scripted) answer(verb string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	list := s.rules[verb]
	if len(list) == 0 {
		return map[string]string{"conn": "220 script", "EHLO": "", "DATA": "354 go on", "QUIT": "221 bye", "AUTH": "235 2.7.0 in"}[verb]
	}
	i := min(s.used[verb], len(list)-1)
	s.used[verb]++
	return list[i]
}

func (s *scripted) talk(c net.Conn) {
	defer c.Close()
	if s.from {
		c = tls.Server(c, s.tls)
	}
	r := bufio.NewReader(c)
	secure, begun := s.from, false
	if !s.reply(c, "conn") {
		return
	}
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimRight(line, "\r\n")
		verb, _, _ := strings.Cut(strings.ToUpper(line), " ")
		s.mu.Lock()
		s.heard = append(s.heard, line)
		s.mu.Unlock()
		if s.before != nil {
			s.before(line)
		}
		if _, ok := s.rules[line]; ok {
			verb = line
		}
		switch verb {
		case "MAIL":
			if begun {
				fmt.Fprint(c, "503 5.5.1 one letter at a time\r\n")
				continue
			}
			begun = true
		case "RSET":
			begun = false
		case "EHLO":
			begun = false
			if a := s.answer("EHLO"); a != "" {
				if !s.say(c, a) {
					return
				}
				continue
			}
			lines := []string{"script", "8BITMIME", "ENHANCEDSTATUSCODES"}
			if s.tls != nil && !secure {
				lines = append(lines, "STARTTLS")
			}
			if s.auth {
				lines = append(lines, "AUTH PLAIN LOGIN XOAUTH2")
			}
			for i, l := range lines {
				sep := "-"
				if i == len(lines)-1 {
					sep = " "
				}
				fmt.Fprintf(c, "250%s%s\r\n", sep, l)
			}
			continue
		case "STARTTLS":
			fmt.Fprint(c, "220 go\r\n")
			tc := tls.Server(c, s.tls)
			if tc.Handshake() != nil {
				return
			}
			c, r, secure = tc, bufio.NewReader(tc), true
			continue
		}
		if !s.reply(c, verb) {
			return
		}
		if verb == "QUIT" {
			return
		}
		if verb == "DATA" && s.lastSaid("DATA") {
			body, ok := readDots(r)
			if !ok {
				return
			}
			begun = false
			a := s.answer(".")
			if a == "" {
				a = "250 2.0.0 queued as 4711"
			}
			if strings.HasPrefix(a, "2") {
				s.mu.Lock()
				s.accepted = append(s.accepted, body)
				s.mu.Unlock()
			}
			if !s.say(c, a) {
				return
			}
		}
	}
}

// lastSaid reports whether the newest answer to a verb invites the message.
func (s *scripted) lastSaid(verb string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	list := s.rules[verb]
	return len(list) == 0 || strings.HasPrefix(list[min(max(s.used[verb]-1, 0), len(list)-1)], "354")
}

func (s *scripted) reply(c net.Conn, verb string) bool {
	a := s.answer(verb)
	if a == "" {
		a = "250 2.0.0 ok"
	}
	return s.say(c, a)
}

// say writes an answer; false ends the connection.
func (s *scripted) say(c net.Conn, a string) bool {
	switch {
	case a == "drop":
		return false
	case strings.HasPrefix(a, "stall"):
		// Wait until the other side gives up.
		c.Read(make([]byte, 1))
		return false
	}
	text, drop := strings.CutSuffix(a, " then drop")
	_, err := fmt.Fprintf(c, "%s\r\n", text)
	return err == nil && !drop
}

// readDots reads a message to its final dot; false if the connection ended
// before, as after a crash: a server then throws the message away.
func readDots(r *bufio.Reader) (string, bool) {
	var b strings.Builder
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			return "", false
		}
		if line == ".\r\n" {
			return b.String(), true
		}
		b.WriteString(strings.TrimPrefix(line, "."))
	}
}

func (s *scripted) took() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.accepted...)
}

func (s *scripted) connections() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.conns)
}

func (s *scripted) commands() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return strings.Join(s.heard, "|")
}

// scriptTLS makes a server's certificate for 127.0.0.1 and a client that
// trusts it.
func scriptTLS(t *testing.T) (server, client *tls.Config) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(cert)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, &tls.Config{RootCAs: pool}
}

// fakeBox is an outbox in memory with the rules of the real one: leases, the
// dot mark, and what becomes of both when a lease runs out.
type fakeBox struct {
	mu      sync.Mutex
	letters []schedule.Message
	leased  map[int64]time.Time
	paused  bool
	tokens  int
	// crash names a call at which the process dies: from then on nothing is
	// recorded.
	crash string
	dead  bool
	log   []string
}

var errCrash = errors.New("the process died")

func (b *fakeBox) died(at string) bool {
	if b.crash == at {
		b.dead = true
	}
	b.log = append(b.log, at)
	return b.dead
}

func (b *fakeBox) Claim(_ context.Context, now time.Time, lease time.Duration) (schedule.Message, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.paused {
		return schedule.Message{}, schedule.ErrNone
	}
	for i := range b.letters {
		l := &b.letters[i]
		due := l.State == schedule.MessageQueued || l.State == schedule.MessageDeferred
		if due && !l.NextAt.After(now) {
			b.tokens++
			l.State, l.LeaseToken, l.DotAt = schedule.MessageLeased, fmt.Sprint("token", b.tokens), time.Time{}
			l.Attempts++
			b.leased[l.ID] = now.Add(lease)
			if b.died("claimed") {
				return schedule.Message{}, errCrash
			}
			return *l, nil
		}
	}
	return schedule.Message{}, schedule.ErrNone
}

func (b *fakeBox) held(id int64, token string, now time.Time) (*schedule.Message, error) {
	for i := range b.letters {
		if l := &b.letters[i]; l.ID == id && l.State == schedule.MessageLeased && l.LeaseToken == token && now.Before(b.leased[id]) {
			return l, nil
		}
	}
	return nil, schedule.ErrLostLease
}

func (b *fakeBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.died("before mark") {
		return errCrash
	}
	l, err := b.held(id, token, now)
	if err != nil || ctx.Err() != nil {
		return errors.Join(err, ctx.Err())
	}
	l.DotAt = now
	if b.died("after mark") {
		return errCrash
	}
	return nil
}

func (b *fakeBox) RecordOutcome(ctx context.Context, id int64, token string, o schedule.Outcome, now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.died("before record") {
		return errCrash
	}
	l, err := b.held(id, token, now)
	if err != nil || ctx.Err() != nil {
		return errors.Join(err, ctx.Err())
	}
	l.State, l.Code, l.Enhanced, l.Answer, l.NextAt = o.State, o.Code, o.Enhanced, o.Answer, o.NextAt
	if o.State == schedule.MessageQueued {
		l.Attempts--
	}
	b.paused = b.paused || o.PauseQueue
	delete(b.leased, id)
	return nil
}

// BelieveDead and Brake do what the outbox does; who is suppressed is the real
// one's affair.
func (b *fakeBox) BelieveDead(context.Context, time.Time) error { return nil }

func (b *fakeBox) Brake(_ context.Context, x schedule.Brake, now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.paused = true
	for i := range b.letters {
		if l := &b.letters[i]; slices.Contains(x.Again, l.ID) {
			l.State, l.NextAt = schedule.MessageDeferred, now
		}
	}
	return nil
}

// recover does what the outbox does with leases that ran out.
func (b *fakeBox) recover(now time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.letters {
		l := &b.letters[i]
		if l.State != schedule.MessageLeased || now.Before(b.leased[l.ID]) {
			continue
		}
		l.State = schedule.MessageQueued
		if !l.DotAt.IsZero() {
			l.State = schedule.MessageUncertain
		}
	}
}

var senderNow = testkit.Day(2026, 9, 1).At(14, 0, time.UTC)

func newBox(n int) *fakeBox {
	b := &fakeBox{leased: map[int64]time.Time{}}
	for i := range n {
		b.letters = append(b.letters, schedule.Message{
			ID: int64(i + 1), To: fmt.Sprintf("c%d@mail.example", i+1), From: "service@kettlecove.example", State: schedule.MessageQueued,
			Raw:      []byte(fmt.Sprintf("Subject: letter %d\r\n\r\nline\r\n.dot first\r\n", i+1) + strings.Repeat("0123456789012345678901234567890123456789\r\n", 300)),
			QueuedAt: senderNow, NotAfter: senderNow.Add(20 * 24 * time.Hour),
		})
	}
	return b
}

func newSender(t *testing.T, box send.Outbox, s *scripted, with func(*send.Config)) *send.Sender {
	t.Helper()
	cfg := send.Config{
		Server: s.ln.Addr().String(), Security: send.NoTLS, Hello: "shop.example",
		Command: 300 * time.Millisecond, BeforeDot: 2 * time.Second, AfterDot: 300 * time.Millisecond, Bookkeeping: time.Second,
		Lanes: 1, // a script is in the order of one connection
	}
	if with != nil {
		with(&cfg)
	}
	snd, err := send.New(box, cfg)
	if err != nil {
		t.Fatal(err)
	}
	return snd
}

func at(now time.Time) func() time.Time { return func() time.Time { return now } }
