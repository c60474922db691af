package web_test

import (
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"testing"
)

// TestWhatIsCompressed: pages, styles and scripts are; feeds are not, nor a page that
// holds an address that is its own key while the request brought words of its own.
func TestWhatIsCompressed(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	week := s.as(cookie, "GET", "/", nil)
	feed := regexp.MustCompile(`/cal/[^"]+`).FindString(week.Body.String())
	style := regexp.MustCompile(`/static/log[^"]+`).FindString(week.Body.String())
	script := regexp.MustCompile(`/static/desk[^"]+`).FindString(week.Body.String())
	if feed == "" || style == "" || script == "" {
		t.Fatalf("the page names %q, %q, %q", feed, style, script)
	}
	for _, c := range []struct {
		name, path string
		packed     bool
	}{
		{"a page", "/weeks", true}, {"the due list", "/", true}, {"the due list of another week", "/?week=2027-W18", true}, {"a style", style, true}, {"a script", script, true},
		{"a calendar", feed, false}, {"a customer's page", s.my("W1"), true},
		{"a boat with its calendar's address", "/boats/PERCH", true}, {"the same, asked with words", "/boats/PERCH?history=all", false},
		{"a search", "/search?q=zzz", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s.t = t
			a := s.send("GET", c.path, nil, "Cookie", cookie, "Accept-Encoding", "gzip").code(http.StatusOK)
			packed := a.Header().Get("Content-Encoding") == "gzip"
			if packed != c.packed {
				t.Errorf("compressed: %v, want %v", packed, c.packed)
			}
			if a.Header().Get("No-Gzip-Compression") != "" {
				t.Error("a header of our own goes out")
			}
			plain := s.send("GET", c.path, nil, "Cookie", cookie).Body.String()
			if !packed {
				return
			}
			r, err := gzip.NewReader(a.Body)
			if err != nil {
				t.Fatal(err)
			}
			if got, err := io.ReadAll(r); err != nil || nameless(string(got)) != nameless(plain) {
				t.Errorf("unpacked it is another page: %v", err)
			}
		})
	}
}

// nameless is a page without the names of its forms, new each time.
func nameless(page string) string {
	return regexp.MustCompile(`name="form" value="[^"]*"`).ReplaceAllString(page, "")
}
