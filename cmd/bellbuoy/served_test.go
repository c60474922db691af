package main

import (
	"bufio"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// served is a daemon in a process of its own.
type served struct {
	cmd   *exec.Cmd
	base  string // http://host:port
	ended chan struct{}
	err   error // how it ended, once it has

	mu  sync.Mutex
	log strings.Builder
}

// patience bounds every wait of these tests for another process.
var patience = 30 * time.Second

// serve starts the daemon of a shop, or of the demo, and waits until it answers.
func (s *testShop) serve(t testing.TB, args ...string) *served {
	t.Helper()
	if len(args) == 0 {
		args = []string{"serve", "--listen", "127.0.0.1:0"}
	}
	return s.serveWith(t, append(args, "--config", s.config(), "--today", s.today)...)
}

// serveWith starts a daemon by exactly this command line.
func (s *testShop) serveWith(t testing.TB, args ...string) *served {
	t.Helper()
	line := append(append(slices.Clone(s.under), program), args...)
	d := &served{cmd: exec.Command(line[0], line[1:]...), ended: make(chan struct{})}
	stderr, err := d.cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := d.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.signal(syscall.SIGKILL) })
	address := make(chan string, 1)
	go d.follow(stderr, address)
	select {
	case d.base = <-address:
	case <-d.ended:
		t.Fatalf("the daemon ended: %v\n%s", d.err, d.lines())
	case <-time.After(patience):
		t.Fatalf("the daemon does not answer\n%s", d.lines())
	}
	return d
}

// follow keeps the log and finds the address in it.
func (d *served) follow(stderr io.Reader, address chan<- string) {
	for in := bufio.NewScanner(stderr); in.Scan(); {
		d.mu.Lock()
		d.log.WriteString(in.Text() + "\n")
		d.mu.Unlock()
		if _, at, ok := strings.Cut(in.Text(), "msg=answering address="); ok {
			address <- at
		}
	}
	d.err = d.cmd.Wait()
	close(d.ended)
}

// lines is the log so far.
func (d *served) lines() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.log.String()
}

// signal goes to this process and no other; one that has ended gets none.
func (d *served) signal(s os.Signal) { _ = d.cmd.Process.Signal(s) }

// stop ends the daemon as a service manager does and returns how long that took.
func (d *served) stop(t testing.TB) time.Duration {
	t.Helper()
	begun := time.Now()
	d.signal(syscall.SIGTERM)
	d.wait(t)
	return time.Since(begun)
}

// wait waits for the end of a daemon that was told to stop; it must be a good
// one.
func (d *served) wait(t testing.TB) {
	t.Helper()
	select {
	case <-d.ended:
		if d.err != nil {
			t.Errorf("the daemon ended with %v\n%s", d.err, d.lines())
		}
	case <-time.After(patience):
		t.Fatalf("the daemon does not stop\n%s", d.lines())
	}
}

// kill ends the daemon without a word.
func (d *served) kill() {
	d.signal(syscall.SIGKILL)
	<-d.ended
}

// at is an address that the shop gave out, on the daemon's own door.
func (d *served) at(t testing.TB, address string) string {
	t.Helper()
	u, err := url.Parse(strings.TrimSpace(address))
	if err != nil {
		t.Fatal(err)
	}
	return d.base + u.EscapedPath()
}

// get asks for a page and returns the answer with its whole body.
func (d *served) get(t testing.TB, method, address string, header ...string) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, string(body)
}

// desk is somebody at the desk of a daemon.
type desk struct {
	t      testing.TB
	base   string
	client http.Client
}

// password is that of the staff of these tests.
const password = "a long enough password"

// signedIn is Inge at the desk, who is on the staff.
func (d *served) signedIn(t testing.TB) *desk {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	k := &desk{t: t, base: d.base, client: http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	k.form("/sign-in", url.Values{"name": {"Inge"}, "password": {password}})
	return k
}

// form posts a form, which must be taken.
func (k *desk) form(path string, form url.Values) {
	k.t.Helper()
	if code, body := k.post(path, "application/x-www-form-urlencoded", form.Encode()); code != http.StatusSeeOther {
		k.t.Fatalf("%s is answered by %d\n%s", path, code, body)
	}
}

// post posts a body and returns the answer.
func (k *desk) post(path, kind, body string) (code int, answer string) {
	k.t.Helper()
	req, err := http.NewRequestWithContext(k.t.Context(), http.MethodPost, k.base+path, strings.NewReader(body))
	if err != nil {
		k.t.Fatal(err)
	}
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	resp, err := k.client.Do(req)
	if err != nil {
		k.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		k.t.Fatal(err)
	}
	return resp.StatusCode, string(b)
}
