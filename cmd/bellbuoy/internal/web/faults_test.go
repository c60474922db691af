package web_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/storetest"
)

// TestSlowBodyIsCutOff: a visitor who sends a byte now and then does not keep a
// connection for ever.
func TestSlowBodyIsCutOff(t *testing.T) {
	s := newTestShop(t)
	srv := httptest.NewUnstartedServer(nil)
	srv.Config = site.NewServer(s.site, slog.New(slog.DiscardHandler))
	if srv.Config.ReadTimeout == 0 {
		t.Fatal("a request may take for ever")
	}
	srv.Config.ReadTimeout = 300 * time.Millisecond
	srv.Start()
	defer srv.Close()
	c, err := net.Dial("tcp", srv.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	io.WriteString(c, "POST /sign-in HTTP/1.1\r\nHost: shop.example\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\n")
	go func() {
		for range 200 { // ten seconds, a byte each twentieth of one
			if _, err := io.WriteString(c, "a"); err != nil {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
	}()
	c.SetReadDeadline(time.Now().Add(5 * time.Second))
	// It may end in a reset: bytes were on their way to a server that had closed.
	if _, err := io.Copy(io.Discard, c); errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("the connection is still open after five seconds: %v", err)
	}
}

// TestAVisitorWhoLeavesIsNoFault: nothing of it stands in the log as one of ours.
func TestAVisitorWhoLeavesIsNoFault(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	var log strings.Builder
	s.server.Log = slog.New(slog.NewTextHandler(&log, nil))
	for _, path := range []string{"/", "/boats/PERCH", "/weeks"} {
		ctx, leave := context.WithCancel(t.Context())
		leave()
		r := httptest.NewRequestWithContext(ctx, http.MethodGet, path, nil)
		r.Header.Set("Cookie", cookie)
		s.site.ServeHTTP(httptest.NewRecorder(), r)
	}
	if strings.Contains(log.String(), "level=ERROR") || !strings.Contains(log.String(), "level=INFO") {
		t.Errorf("the log says:\n%s", log.String())
	}
}

// TestAFormThatFailedIsGivenBack: what was typed stands on the page, which does
// not say that it was saved.
func TestAFormThatFailedIsGivenBack(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	const note = "will bring the cover on Friday"
	form := url.Values{"note": {note}}
	storetest.RawAt(t, s.app.DB.Path(), "ALTER TABLE feeds RENAME TO elsewhere")
	s.as(cookie, http.MethodPost, "/boats/PERCH/feed", form).code(http.StatusInternalServerError).
		says(note, "may not have been saved", "Send it again").silent("Nothing you entered was lost")
}

// TestOddFileNamesAreNoFault: what no file system takes is refused in words.
func TestOddFileNamesAreNoFault(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	for _, name := range []string{"..", strings.Repeat("boats", 60) + ".csv"} {
		s.upload(cookie, map[string][]byte{name: []byte("id\n")}).code(http.StatusUnprocessableEntity).says("Rename it")
	}
}

// TestNoRobotKeepsAPage: also not one behind an address that is its own key.
func TestNoRobotKeepsAPage(t *testing.T) {
	s := newTestShop(t)
	for _, path := range []string{"/sign-in", s.my("W1")} {
		if got := s.get(path).Header().Get("X-Robots-Tag"); !strings.Contains(got, "noindex") {
			t.Errorf("%s: X-Robots-Tag is %q", path, got)
		}
	}
}
