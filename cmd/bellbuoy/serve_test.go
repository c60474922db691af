package main

import (
	"bufio"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"bellbuoy/schedule"
)

// servedShop is the worked shop on the day on which one mail is due, with
// sending switched on.
func servedShop(t *testing.T, box *mailbox) *testShop {
	t.Helper()
	s := newShop(t, lindrake(t, box.settings()))
	s.today = "2026-11-04"
	s.do(t, "import", filepath.Join(testdata, "worked"))
	s.do(t, "mail", "on")
	return s
}

func TestServeAnswersMachines(t *testing.T) {
	box := newMailbox(t)
	s := servedShop(t, box)
	d := s.serve(t)
	for _, c := range []struct {
		name, path string
		status     int
		holds      string
	}{
		{"health", "/healthz", http.StatusOK, "ok"},
		{"metrics", "/metrics", http.StatusOK, "go_goroutines"},
		{"the shop among them", "/metrics", http.StatusOK, "bellbuoy_emails{state=\"uncertain\"} 0"},
		{"and which program it is", "/metrics", http.StatusOK, "bellbuoy_build_info{revision="},
		{"and how long the lists are", "/metrics", http.StatusOK, "bellbuoy_list_visits{list=\"overdue\"} "},
		{"and whether mail goes out", "/metrics", http.StatusOK, "bellbuoy_sending_open "},
		{"robots", "/robots.txt", http.StatusOK, "Disallow: /"},
		{"the desk without signing in", "/", http.StatusForbidden, ""},
		{"a calendar that never was", "/cal/aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa.ics", http.StatusNotFound, ""},
		{"nowhere", "/nowhere", http.StatusNotFound, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			resp, body := d.get(t, http.MethodGet, d.base+c.path)
			// Somebody without a name may be sent to the door instead.
			sentAway := c.status == http.StatusForbidden && resp.Request.URL.Path != c.path
			if resp.StatusCode != c.status && !sentAway || !strings.Contains(body, c.holds) {
				t.Errorf("%s: status %d, want %d with %q in\n%s", c.path, resp.StatusCode, c.status, c.holds, body)
			}
		})
	}
	d.stop(t)
}

func TestServeKeepsFeedAddressesOutOfTheLog(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	box := newMailbox(t)
	s := servedShop(t, box)
	d := s.serve(t)
	feed := d.at(t, s.do(t, "feed", "PERCH"))
	first, body := d.get(t, http.MethodGet, feed)
	if first.StatusCode != http.StatusOK || !strings.Contains(body, "SUMMARY:Spring commissioning") {
		t.Fatalf("status %d\n%s", first.StatusCode, body)
	}
	if again, body := d.get(t, http.MethodGet, feed, "If-None-Match", first.Header.Get("ETag")); again.StatusCode != http.StatusNotModified || body != "" {
		t.Errorf("asked again: status %d and %d bytes, want 304 and none", again.StatusCode, len(body))
	}
	if head, _ := d.get(t, http.MethodHead, feed); head.StatusCode != http.StatusOK || head.Header.Get("ETag") != first.Header.Get("ETag") {
		t.Errorf("HEAD: status %d, ETag %s, want those of GET", head.StatusCode, head.Header.Get("ETag"))
	}
	d.get(t, http.MethodGet, feed+"?x=1")
	s.do(t, "feed", "PERCH", "--revoke")
	untilStatus(t, d, feed, http.StatusGone) // the daemon believes what it saw for a second
	d.stop(t)
	token := strings.TrimSuffix(filepath.Base(feed), ".ics")
	log := d.lines()
	if strings.Count(log, "/cal/") < 4 {
		t.Errorf("the requests are not in the log:\n%s", log)
	}
	if strings.Contains(strings.ToLower(log), token) {
		t.Errorf("the log shows the address:\n%s", log)
	}
}

// TestServeStopsGently stops the daemon while half a request has come in and a
// letter waits for its answer: both are finished.
func TestServeStopsGently(t *testing.T) {
	box := newMailbox(t)
	arrived, release := holdLetter(box)
	s := servedShop(t, box)
	d := s.serve(t)
	waitFor(t, arrived, "a letter")
	conn := halfAsked(t, d)
	begun := time.Now()
	d.signal(syscall.SIGTERM)
	untilClosed(t, d)
	if _, err := io.WriteString(conn, "body"); err != nil {
		t.Fatal(err)
	}
	expectStatus(t, conn, http.StatusMethodNotAllowed)
	close(release)
	d.wait(t)
	if took := time.Since(begun); took > 10*time.Second {
		t.Errorf("stopping took %v", took)
	}
	if got := letters(t, s); got[schedule.MessageSent] != 1 || len(got) != 1 || len(box.copies()) != 1 {
		t.Errorf("letters %v, accepted %v, want one and the same", got, box.copies())
	}
}

// TestServeStopsInTime stops the daemon while the mail server keeps silent after
// the final dot. It does not wait for ever, and nobody gets the letter twice.
func TestServeStopsInTime(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for the end of the grace, ten seconds")
	}
	t.Parallel()
	box := newMailbox(t)
	arrived, release := holdLetter(box)
	s := servedShop(t, box)
	d := s.serve(t)
	waitFor(t, arrived, "a letter")
	if took := d.stop(t); took > 10*time.Second {
		t.Errorf("stopping took %v", took)
	}
	close(release) // and so the letter did arrive
	s.today = "2026-11-27"
	s.do(t, "mail", "send")
	if got := letters(t, s); got[schedule.MessageUncertain] != 1 || len(got) != 1 {
		t.Errorf("letters %v, want one uncertain", got)
	}
	if n := len(box.copies()); n != 1 {
		t.Errorf("%d letters accepted, want 1", n)
	}
}

// holdLetter has the mail server say nothing to the dot of a letter until it is
// released.
func holdLetter(box *mailbox) (arrived, release chan struct{}) {
	arrived, release = make(chan struct{}), make(chan struct{})
	box.watch(func(s mailStage) bool {
		if s == stageDot {
			close(arrived)
			<-release
		}
		return true
	})
	return arrived, release
}

// halfAsked is a request whose body has not come yet: the daemon reads it before
// it answers, though it will not take it.
func halfAsked(t *testing.T, d *served) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", strings.TrimPrefix(d.base, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	if _, err := io.WriteString(conn, "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	expectStatus(t, conn, http.StatusOK)
	if _, err := io.WriteString(conn, "PUT /cal/x HTTP/1.1\r\nHost: x\r\nContent-Length: 4\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	d.get(t, http.MethodGet, d.base+"/healthz") // by then the other has been seen
	return conn
}

func expectStatus(t *testing.T, conn net.Conn, status int) {
	t.Helper()
	if err := conn.SetReadDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if _, err := io.ReadAll(resp.Body); err != nil || resp.StatusCode != status {
		t.Errorf("status %d, want %d: %v", resp.StatusCode, status, err)
	}
}

// untilStatus waits until an address answers so.
func untilStatus(t *testing.T, d *served, address string, status int) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		if resp, _ := d.get(t, http.MethodGet, address); resp.StatusCode == status {
			return
		}
	}
	t.Errorf("%s never answers %d", address, status)
}

// letters counts a shop's letters by state.
func letters(t testing.TB, s *testShop) map[schedule.MessageState]int {
	t.Helper()
	return doJSON[struct{ Emails map[schedule.MessageState]int }](t, s, "mail", "status").Emails
}

func waitFor(t *testing.T, c <-chan struct{}, what string) {
	t.Helper()
	select {
	case <-c:
	case <-time.After(patience):
		t.Fatalf("%s does not come", what)
	}
}

// untilClosed waits until the daemon takes no new connection.
func untilClosed(t *testing.T, d *served) {
	t.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); {
		conn, err := net.Dial("tcp", strings.TrimPrefix(d.base, "http://"))
		if err != nil {
			return
		}
		conn.Close()
	}
	t.Fatal("the door stays open")
}
