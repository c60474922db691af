package app_test

import (
	"fmt"
	"io"
	"log"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"

	"bellbuoy/notify"
)

// bounceBox is a mailbox on the loopback with the lines of settings that name
// it.
func bounceBox(t *testing.T) (user *imapmemserver.User, more string) {
	t.Helper()
	user = imapmemserver.NewUser("bounces", "secret")
	if err := user.Create("INBOX", nil); err != nil {
		t.Fatal(err)
	}
	mem := imapmemserver.New()
	mem.AddUser(user)
	srv := imapserver.New(&imapserver.Options{
		NewSession: func(*imapserver.Conn) (imapserver.Session, *imapserver.GreetingData, error) {
			return mem.NewSession(), nil, nil
		},
		Caps: imap.CapSet{imap.CapIMAP4rev1: {}}, InsecureAuth: true, Logger: log.New(io.Discard, "", 0),
	})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = srv.Serve(ln)
	}()
	t.Cleanup(func() {
		srv.Close()
		<-ended
	})
	password := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(password, []byte("secret\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return user, withReturnPaths + fmt.Sprintf("[mail.imap]\nserver = %q\nsecurity = \"none\"\nuser = \"bounces\"\npassword_file = %q\n", ln.Addr(), password)
}

// TestTheRoundLooksIntoTheMailbox drops a bounce and a person's note into the
// mailbox: the next turn takes the bounce in and leaves the note, and looks
// again only after a while.
func TestTheRoundLooksIntoTheMailbox(t *testing.T) {
	user, more := bounceBox(t)
	p := newPost(t, more)
	drop := func(message string) {
		t.Helper()
		if _, err := user.Append("INBOX", literal(message), &imap.AppendOptions{}); err != nil {
			t.Fatal(err)
		}
	}
	bounce := func(i int) string {
		path, err := p.ReturnPath(p.sent[i].ID)
		if err != nil {
			t.Fatal(err)
		}
		return returnedTo(path, p.sent[i].To, "550 5.1.1 no such user")
	}
	tick := func(want ...notify.CallReason) {
		t.Helper()
		if err := p.Tick(t.Context(), func() time.Time { return p.now }, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		for i, w := range want {
			if got := p.called(p.sent[i].CustomerID); got != w {
				t.Errorf("customer %d is on the call list for %q, want %q", i, got, w)
			}
		}
	}
	drop(bounce(0))
	drop("From: x@mail.example\r\nSubject: Wren\r\n\r\nIs she ready?\r\n")
	tick(notify.CallBounced, "")
	drop(bounce(1))
	p.now = p.now.Add(time.Minute)
	tick(notify.CallBounced, "")
	p.now = p.now.Add(5 * time.Minute)
	tick(notify.CallBounced, notify.CallBounced)
	box, err := user.Status("INBOX", &imap.StatusOptions{NumMessages: true, NumUnseen: true})
	if err != nil || *box.NumMessages != 3 || *box.NumUnseen != 1 {
		t.Errorf("%d messages, %d unread, %v", *box.NumMessages, *box.NumUnseen, err)
	}
}

// literal is a message as the mailbox takes it.
func literal(s string) imap.LiteralReader { return sized{strings.NewReader(s), int64(len(s))} }

type sized struct {
	io.Reader
	n int64
}

func (s sized) Size() int64 { return s.n }
