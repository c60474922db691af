//go:build unix

package main

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestHangupReadsTheSettingsAgain changes the settings of a daemon that runs:
// good ones take effect, faulty ones are refused, and what takes a restart is
// named. The daemon lives on throughout.
func TestHangupReadsTheSettingsAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, "worked"))
	d := s.serve(t)
	first, err := os.ReadFile(s.config())
	if err != nil {
		t.Fatal(err)
	}
	hangup := func(settings, logged string) {
		t.Helper()
		if err := os.WriteFile(s.config(), []byte(settings), 0o600); err != nil {
			t.Fatal(err)
		}
		before := strings.Count(d.lines(), logged)
		d.signal(syscall.SIGHUP)
		for end := time.Now().Add(patience); strings.Count(d.lines(), logged) == before; time.Sleep(20 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("the log never says %q:\n%s", logged, d.lines())
			}
			select {
			case <-d.ended:
				t.Fatalf("the daemon ended: %v\n%s", d.err, d.lines())
			default:
			}
		}
	}
	shows := func(name string) {
		t.Helper()
		if resp, body := d.get(t, http.MethodGet, d.base+"/sign-in"); resp.StatusCode != http.StatusOK || !strings.Contains(body, name) {
			t.Errorf("status %d, and the page does not name %q:\n%s", resp.StatusCode, name, body)
		}
	}
	const again = `msg="settings read again"`
	other := strings.Replace(string(first), `"Lindrake Cove Boat Works"`, `"Tamarwick Landing"`, 1)
	shows("Lindrake Cove Boat Works")
	hangup(other, again)
	shows("Tamarwick Landing")
	hangup("[shop]\nname = 7\n", `msg="settings not taken; the old ones stay"`)
	if !strings.Contains(d.lines(), "bellbuoy.toml:2: ") {
		t.Errorf("the log does not say where the fault is:\n%s", d.lines())
	}
	shows("Tamarwick Landing")
	hangup("files = { database = \"other.db\" }\nserve = { listen = \"127.0.0.1:1\" }\n"+string(first), again)
	for _, name := range []string{"setting=files.database", "setting=serve.listen"} {
		if !strings.Contains(d.lines(), name) {
			t.Errorf("the log does not say %s:\n%s", name, d.lines())
		}
	}
	shows("Lindrake Cove Boat Works")

	// The same without a signal, which not every system has.
	if err := os.WriteFile(s.config(), []byte(other), 0o600); err != nil {
		t.Fatal(err)
	}
	s.do(t, "reload")
	shows("Tamarwick Landing")
	d.stop(t)
	stopped := s.open(t)
	if _, err := askReload(t.Context(), stopped, 50*time.Millisecond); err == nil || !strings.Contains(err.Error(), "no daemon answered") {
		t.Errorf("a daemon that is stopped answered: %v", err)
	}
	if _, err := os.Stat(reloadFile(stopped.Config)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("what nobody answered is left for the next daemon: %v", err)
	}
	if _, err := os.Stat(s.dir + "/other.db"); err == nil {
		t.Error("another database was made")
	}
}

// TestAHungMailboxKeepsNoSettingsWaiting: while a turn of the daemon waits for a mail
// server that accepts the connection and never says a word, settings are read again at
// once, by the signal and by the command, and the daemon ends as quickly as ever.
func TestAHungMailboxKeepsNoSettingsWaiting(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon")
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	hung := make(chan net.Conn, 1)
	go func() {
		if c, err := ln.Accept(); err == nil {
			hung <- c
		}
	}()
	s := newShop(t, lindrake(t, fmt.Sprintf("\n[mail.imap]\nserver = %q\nsecurity = \"none\"\nuser = \"service\"\npassword_file = \"imap.password\"\n", ln.Addr())))
	s.today = "2026-11-25"
	if err := os.WriteFile(filepath.Join(s.dir, "imap.password"), []byte("secret\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s.do(t, "import", filepath.Join(testdata, "worked"))
	d := s.serve(t)
	select {
	case c := <-hung:
		defer c.Close()
	case <-time.After(patience):
		t.Fatalf("the daemon does not look into the mailbox\n%s", d.lines())
	}
	d.signal(syscall.SIGHUP)
	for end := time.Now().Add(5 * time.Second); !strings.Contains(d.lines(), "settings read again"); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the settings wait for the mailbox\n%s", d.lines())
		}
	}
	s.do(t, "reload")
	if strings.Contains(d.lines(), "tick failed") {
		t.Errorf("the mailbox had let go: the test looks at nothing\n%s", d.lines())
	}
	if took := d.stop(t); took > 5*time.Second {
		t.Errorf("the daemon took %v to stop", took)
	}
}
