package main

import (
	"bytes"
	"errors"
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
	mu      sync.Mutex
	// at, if set, is called at every stage of a letter; false refuses it.
	at       func(mailStage) bool
	accepted map[string]int    // by Message-ID
	raw      map[string][]byte // the same, as it came
	order    []string          // Message-IDs as they were accepted
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

// mailStage is how far a letter has come.
type mailStage string

// The stages of a letter: hello is before it is named, body in the middle of it,
// the dot is there once all of it has come and before
// the server makes it its own, which is when it is accepted. The answer goes
// out after that.
const (
	stageHello    mailStage = "hello"
	stageMail     mailStage = "MAIL"
	stageRcpt     mailStage = "RCPT"
	stageBody     mailStage = "body"
	stageDot      mailStage = "dot"
	stageAccepted mailStage = "accepted"
)

// watch has f called at every stage from now on; nil ends it.
func (b *mailbox) watch(f func(mailStage) bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.at = f
}

func (b *mailbox) reached(s mailStage) error {
	b.mu.Lock()
	f := b.at
	b.mu.Unlock()
	if f != nil && !f(s) {
		return errors.New("refused")
	}
	return nil
}

// settings are the lines that send a shop's mail here.
func (b *mailbox) settings() string {
	return "\n[mail]\nfrom = \"Lindrake Cove Boat Works <service@lindrake.example>\"\nserver = \"" + b.address + "\"\nsecurity = \"none\"\n"
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

func (b *mailbox) NewSession(*smtp.Conn) (smtp.Session, error) {
	return mailboxSession{b}, b.reached(stageHello)
}

type mailboxSession struct{ box *mailbox }

func (s mailboxSession) Reset()        {}
func (s mailboxSession) Logout() error { return nil }

func (s mailboxSession) Mail(string, *smtp.MailOptions) error {
	return s.box.reached(stageMail)
}

func (s mailboxSession) Rcpt(string, *smtp.RcptOptions) error {
	return s.box.reached(stageRcpt)
}

func (s mailboxSession) Data(r io.Reader) error {
	begun := make([]byte, 64)
	if _, err := io.ReadFull(r, begun); err != nil {
		return err
	}
	if err := s.box.reached(stageBody); err != nil {
		return err
	}
	rest, err := io.ReadAll(r)
	if err != nil {
		return err // the final dot never came
	}
	raw := append(begun, rest...)
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	b := s.box
	if err := b.reached(stageDot); err != nil {
		return err
	}
	b.mu.Lock()
	id := m.Header.Get("Message-Id")
	b.accepted[id]++
	b.raw[id] = raw
	b.order = append(b.order, id)
	b.mu.Unlock()
	return b.reached(stageAccepted)
}
