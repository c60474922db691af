package mailbox_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"
	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"

	"bellbuoy/cmd/bellbuoy/internal/mailbox"
	"bellbuoy/notify/send"
	"bellbuoy/schedule/testkit"
)

const (
	boxUser     = "bounces"
	boxPassword = "kept-in-a-file"
)

// servers are a small one in this process and a real one beside it.
var servers = map[string]func(*testing.T) string{"in memory": memoryServer, "dovecot": dovecotServer}

func memoryServer(t *testing.T) string {
	user := imapmemserver.NewUser(boxUser, boxPassword)
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
	return ln.Addr().String()
}

// dovecotConf is a whole mail store in a folder of its own.
const dovecotConf = `protocols = imap
base_dir = DIR/run
state_dir = DIR/state
log_path = DIR/log
ssl = no
disable_plaintext_auth = no
mail_location = maildir:DIR/mail
first_valid_uid = 1
passdb {
  driver = static
  args = password=PASSWORD
}
userdb {
  driver = static
  args = uid=mail gid=mail home=DIR
}
service imap-login {
  inet_listener imap {
    address = 127.0.0.1
    port = PORT
  }
  inet_listener imaps {
    port = 0
  }
}
`

func dovecotServer(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("dovecot")
	testkit.Needs(t, err == nil && os.Getuid() == 0, "dovecot, or the right to start it,")
	dir, err := os.MkdirTemp("", "dc") // short, and open to dovecot's own users
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := ln.Addr().String()
	ln.Close()
	_, port, _ := net.SplitHostPort(address)
	conf := filepath.Join(dir, "dovecot.conf")
	text := strings.NewReplacer("DIR", dir, "PORT", port, "PASSWORD", boxPassword).Replace(dovecotConf)
	if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, "-F", "-c", conf)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(syscall.SIGTERM)
		cmd.Wait()
		if t.Failed() {
			log, _ := os.ReadFile(filepath.Join(dir, "log"))
			t.Logf("%s", log)
		}
	})
	answers(t, address)
	return address
}

// answers waits until a server does.
func answers(t *testing.T, address string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		if c, err := net.Dial("tcp", address); err == nil {
			c.Close()
			return
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			t.Fatal("the server does not answer")
		}
	}
}

// person is somebody with a mail program.
func person(t *testing.T, address string) *imapclient.Client {
	t.Helper()
	c, err := imapclient.DialInsecure(address, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.Login(boxUser, boxPassword).Wait(); err != nil {
		t.Fatal(err)
	}
	return c
}

func drop(t *testing.T, c *imapclient.Client, message string) {
	t.Helper()
	a := c.Append("INBOX", int64(len(message)), nil)
	if _, err := a.Write([]byte(message)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(a.Close(), waitAppend(a)); err != nil {
		t.Fatal(err)
	}
}

func waitAppend(a *imapclient.AppendCommand) error {
	_, err := a.Wait()
	return err
}

// unread are the numbers of the messages that a person has yet to read.
func unread(t *testing.T, c *imapclient.Client) []imap.UID {
	t.Helper()
	if _, err := c.Select("INBOX", nil).Wait(); err != nil {
		t.Fatal(err)
	}
	found, err := c.UIDSearch(&imap.SearchCriteria{NotFlag: []imap.Flag{imap.FlagSeen}}, nil).Wait()
	if err != nil {
		t.Fatal(err)
	}
	return found.AllUIDs()
}

func config(address string) mailbox.Config {
	return mailbox.Config{
		Server: address, Security: send.NoTLS, User: boxUser, Folder: "INBOX",
		Secret: func(context.Context) (string, error) { return boxPassword, nil },
	}
}

// reader collects what it is handed.
type reader struct {
	got  []string
	fail string // a message that cannot be dealt with now
}

func (r *reader) take(_ context.Context, message []byte) (bool, error) {
	_, body, _ := strings.Cut(string(message), "\r\n\r\n")
	body = strings.TrimSpace(body)
	if body == r.fail {
		return false, errors.New("not now")
	}
	r.got = append(r.got, body)
	return !strings.HasPrefix(body, "person"), nil
}

func message(body string) string {
	return "From: a@mail.example\r\nTo: b@mail.example\r\nSubject: x\r\n\r\n" + body + "\r\n"
}

func TestEachMessageIsTakenOnceAndInOrder(t *testing.T) {
	for name, start := range servers {
		t.Run(name, func(t *testing.T) {
			address := start(t)
			c := person(t, address)
			for i := range 3 {
				drop(t, c, message(fmt.Sprint("bounce ", i)))
			}
			drop(t, c, message("person"))
			var r reader
			at, err := mailbox.Read(t.Context(), config(address), mailbox.Cursor{}, 2, r.take)
			if err != nil || at.Last == 0 || !slices.Equal(r.got, []string{"bounce 0", "bounce 1"}) {
				t.Fatalf("%v %v %v", at, r.got, err)
			}
			for range 2 { // the second time there is nothing new
				if at, err = mailbox.Read(t.Context(), config(address), at, 10, r.take); err != nil {
					t.Fatal(err)
				}
			}
			if want := []string{"bounce 0", "bounce 1", "bounce 2", "person"}; !slices.Equal(r.got, want) {
				t.Errorf("taken %q, want %q", r.got, want)
			}
			if left := unread(t, c); len(left) != 1 || uint32(left[0]) != at.Last {
				t.Errorf("left for a person: %v", left)
			}
		})
	}
}

func TestWhatFailsComesAgain(t *testing.T) {
	address := memoryServer(t)
	c := person(t, address)
	for _, s := range []string{"bounce 0", "bounce 1", "bounce 2"} {
		drop(t, c, message(s))
	}
	r := reader{fail: "bounce 1"}
	at, err := mailbox.Read(t.Context(), config(address), mailbox.Cursor{}, 10, r.take)
	if err == nil || !strings.Contains(err.Error(), "not now") || at.Last != 1 {
		t.Fatalf("%v, %v", at, err)
	}
	r.fail = ""
	if _, err = mailbox.Read(t.Context(), config(address), at, 10, r.take); err != nil {
		t.Fatal(err)
	}
	if want := []string{"bounce 0", "bounce 1", "bounce 2"}; !slices.Equal(r.got, want) {
		t.Errorf("taken %q", r.got)
	}
}

// TestAnotherMailboxBeginsAgain: a mailbox that was made again numbers its
// messages from one again, under another validity.
func TestAnotherMailboxBeginsAgain(t *testing.T) {
	address := memoryServer(t)
	drop(t, person(t, address), message("bounce"))
	var r reader
	at, err := mailbox.Read(t.Context(), config(address), mailbox.Cursor{Validity: 4711, Last: 99}, 10, r.take)
	if err != nil || at.Last != 1 || at.Validity == 4711 || len(r.got) != 1 {
		t.Errorf("%v %v %v", at, r.got, err)
	}
}

func TestReadRefuses(t *testing.T) {
	address := memoryServer(t)
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { silent.Close() })
	for name, c := range map[string]struct {
		change func(*mailbox.Config)
		says   string
	}{
		"no port":                 {func(c *mailbox.Config) { c.Server = "imap.example.com" }, "want host:port"},
		"a password in the clear": {func(c *mailbox.Config) { c.Server = "192.0.2.1:143" }, "without TLS"},
		"no password":             {func(c *mailbox.Config) { c.Secret = nil }, "password_file"},
		"a wrong password": {func(c *mailbox.Config) {
			c.Secret = func(context.Context) (string, error) { return "guessed", nil }
		}, `as "bounces"`},
		"no such folder":          {func(c *mailbox.Config) { c.Folder = "Elsewhere" }, `mailbox "Elsewhere"`},
		"a server without TLS":    {func(c *mailbox.Config) { c.Security = send.TLS }, "reach mailbox server"},
		"a server that is silent": {func(c *mailbox.Config) { c.Server = silent.Addr().String() }, "reach mailbox server"},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
			defer cancel()
			cfg := config(address)
			c.change(&cfg)
			var r reader
			_, err := mailbox.Read(ctx, cfg, mailbox.Cursor{}, 10, r.take)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("says %v, want %q", err, c.says)
			}
		})
	}
}
