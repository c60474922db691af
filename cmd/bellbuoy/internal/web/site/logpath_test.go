package site

import (
	"net/http/httptest"
	"strings"
	"testing"
)

func TestScrubPath(t *testing.T) {
	const token = "mibueljrud7umnzcl64kuavfqslpgly4vq"
	for _, c := range []struct{ name, path, want string }{
		{"a feed", "/cal/" + token + ".ics", "/cal/~5930bb9d"},
		{"the same in capitals", "/cal/" + strings.ToUpper(token) + ".ics", "/cal/~5930bb9d"},
		{"a customer's page and what is under it", "/my/" + token + "/visit/B-1.lay-up.2027", "/my/~5930bb9d/visit/B-1.lay-up.2027"},
		{"half a token", "/stop/mibuel", "/stop/~f7d9b9d5"},
		{"doubled slashes", "//cal//" + token, "//cal//~5930bb9d"},
		{"other letters of the place", "/CAL/" + token, "/CAL/~5930bb9d"},
		{"where none should be", "/desk/" + token, "/desk/~5930bb9d"},
		{"within another word", "/desk/x-" + token, "/desk/~"},
		{"escaped", "/my/%6d" + token[1:], "/my/~5930bb9d"},
		{"escaped wrongly", "/my/%zz" + token, "/my/~"},
		{"in the query", "/desk?next=/my/" + token, "/desk?~"},
		{"plain places stay", "/desk/boats/B-1.extra.E-1", "/desk/boats/B-1.extra.E-1"},
		{"a static file stays", "/static/log.0123456789ab.css", "/static/log.0123456789ab.css"},
		{"the place alone", "/my/", "/my/"},
		{"nothing", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := scrubPath(c.path)
			if open, ok := strings.CutSuffix(c.want, "~"); ok {
				if !strings.HasPrefix(got, c.want) || len(got) != len(open)+9 {
					t.Errorf("got %q, want %q and eight digits", got, c.want)
				}
			} else if got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func FuzzScrubPath(f *testing.F) {
	const token = "mibueljrud7umnzcl64kuavfqslpgly4vq"
	f.Add("/my/", "/x")
	f.Add("/%", "?y")
	f.Fuzz(func(t *testing.T, before, after string) {
		if got := scrubPath(before + token + after); strings.Contains(got, token) {
			t.Errorf("%q still shows the token", got)
		}
	})
}

func TestRobotsLetCalendarProgramsIn(t *testing.T) {
	w := httptest.NewRecorder()
	robots(w, httptest.NewRequest("GET", "/robots.txt", nil))
	if got := w.Body.String(); w.Code != 200 || got != "User-agent: *\nAllow: /cal/\nDisallow: /\n" {
		t.Errorf("got %d %q", w.Code, got)
	}
}
