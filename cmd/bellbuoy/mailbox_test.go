package main

import (
	"bytes"
	"io"
	"net"
	"net/mail"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
)

// mailbox is a mail server that counts what it accepts. What it accepted it
// has: whether the sender heard the answer is another matter.
type mailbox struct {
	address string
	// before, if set, is called with a whole letter before it is accepted, and
	// after once it is, before the answer goes out.
	before, after func()

	mu       sync.Mutex
	accepted map[string]int    // by Message-ID
	raw      map[string][]byte // the same, as it came
}

func newMailbox(t testing.TB) *mailbox {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := &mailbox{address: ln.Addr().String(), accepted: map[string]int{}, raw: map[string][]byte{}}
	server := smtp.NewServer(b)
	server.Domain = "localhost"
	server.ReadTimeout, server.WriteTimeout = time.Minute, time.Minute
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = server.Serve(ln)
	}()
	t.Cleanup(func() {
		server.Close()
		<-done
	})
	return b
}

// settings are the lines that send a shop's mail here.
func (b *mailbox) settings() string {
	return "\n[mail]\nfrom = \"Larkspur Cove Boat Works <service@larkspur.example>\"\nserver = \"" + b.address + "\"\nsecurity = \"none\"\n"
}

// copies is how often each letter was accepted.
func (b *mailbox) copies() map[string]int {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := make(map[string]int, len(b.accepted))
	for id, n := range b.accepted {
		out[id] = n
	}
	return out
}

func (b *mailbox) NewSession(*smtp.Conn) (smtp.Session, error) { return mailboxSession{b}, nil }

type mailboxSession struct{ box *mailbox }

func (s mailboxSession) Mail(string, *smtp.MailOptions) error { return nil }
func (s mailboxSession) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (s mailboxSession) Reset()                               {}
func (s mailboxSession) Logout() error                        { return nil }

func (s mailboxSession) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err // the final dot never came
	}
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	b := s.box
	if b.before != nil {
		b.before()
	}
	b.mu.Lock()
	id := m.Header.Get("Message-Id")
	b.accepted[id]++
	b.raw[id] = raw
	b.mu.Unlock()
	if b.after != nil {
		b.after()
	}
	return nil
}
