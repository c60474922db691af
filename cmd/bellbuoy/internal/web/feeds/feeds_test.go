package feeds_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/feeds"
	"bellbuoy/notify/link"
	"bellbuoy/store"
)

var feedMoment = time.Date(2027, 4, 12, 9, 30, 0, 0, time.UTC)

// feedShelf is a source of one feed, the boat "B-1" at generation 2.
type feedShelf struct {
	body              string
	changed           time.Time
	stateErr, bodyErr error
	made              int // how often the bytes were asked for
}

func (s *feedShelf) State(_ context.Context, scope link.Scope, subject string) (feeds.State, error) {
	if scope != link.ScopeBoat || subject != "B-1" {
		return feeds.State{}, store.ErrNotFound
	}
	return feeds.State{Generation: 2, Changed: s.changed}, s.stateErr
}

func (s *feedShelf) Body(context.Context, link.Scope, string) (feeds.Body, error) {
	s.made++
	return feeds.Body{Body: []byte(s.body), Changed: s.changed}, s.bodyErr
}

func newShelf() *feedShelf {
	return &feedShelf{body: "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", changed: feedMoment}
}

type feedSite struct {
	handler   http.Handler
	addresses *link.Maker
	log       strings.Builder
}

func newFeedSite(t testing.TB, source feeds.Source) *feedSite {
	t.Helper()
	a, err := link.NewMaker([]byte(strings.Repeat("k", link.MinSecret)))
	if err != nil {
		t.Fatal(err)
	}
	s := &feedSite{addresses: a}
	mux := http.NewServeMux()
	mux.Handle("/cal/{token}", feeds.New(a, source, slog.New(slog.NewTextHandler(&s.log, nil))))
	s.handler = mux
	return s
}

func (s *feedSite) path(t testing.TB, p link.Purpose, to link.Target) string {
	t.Helper()
	token, err := s.addresses.Token(p, to)
	if err != nil {
		t.Fatal(err)
	}
	return "/cal/" + token + ".ics"
}

func (s *feedSite) boat(t testing.TB) string {
	return s.path(t, link.PurposeFeed, link.Target{Scope: link.ScopeBoat, Subject: "B-1", Generation: 2})
}

// ask sends a request with headers given in pairs.
func (s *feedSite) ask(method, path string, headers ...string) *http.Response {
	r := httptest.NewRequest(method, path, nil)
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.handler.ServeHTTP(w, r)
	return w.Result()
}

func bodyOf(t testing.TB, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestFeedIsServedWhole(t *testing.T) {
	shelf := newShelf()
	site := newFeedSite(t, shelf)
	for _, method := range []string{http.MethodGet, http.MethodHead} {
		t.Run(method, func(t *testing.T) {
			r := site.ask(method, site.boat(t))
			for name, want := range map[string]string{
				"Content-Type": "text/calendar; charset=utf-8", "Cache-Control": "private, no-cache",
				"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex", "Content-Disposition": "",
				"Content-Encoding": "", "Last-Modified": "Mon, 12 Apr 2027 09:30:00 GMT", "Content-Length": "32",
			} {
				if got := r.Header.Get(name); got != want {
					t.Errorf("%s: got %q, want %q", name, got, want)
				}
			}
			if tag := r.Header.Get("ETag"); len(tag) != 45 || tag[0] != '"' {
				t.Errorf("ETag %s; want a strong one of 256 bits", tag)
			}
			want := map[string]string{http.MethodGet: shelf.body}[method]
			if got := bodyOf(t, r); r.StatusCode != http.StatusOK || got != want {
				t.Errorf("got %d %q, want 200 %q", r.StatusCode, got, want)
			}
		})
	}
}

func TestFeedConditions(t *testing.T) {
	const earlier, same, later = "Mon, 12 Apr 2027 09:29:59 GMT", "Mon, 12 Apr 2027 09:30:00 GMT", "Tue, 13 Apr 2027 09:30:00 GMT"
	shelf := newShelf()
	site := newFeedSite(t, shelf)
	tag := site.ask("GET", site.boat(t)).Header.Get("ETag")
	for _, c := range []struct {
		name    string
		headers []string
		want    int
	}{
		{"its own tag", []string{"If-None-Match", tag}, 304},
		{"the tag as a proxy weakened it", []string{"If-None-Match", "W/" + tag}, 304},
		{"one of several tags", []string{"If-None-Match", `"x", ` + tag}, 304},
		{"any tag", []string{"If-None-Match", "*"}, 304},
		{"another tag", []string{"If-None-Match", `"x"`}, 200},
		{"since the moment of change", []string{"If-Modified-Since", same}, 304},
		{"since later", []string{"If-Modified-Since", later}, 304},
		{"since earlier", []string{"If-Modified-Since", earlier}, 200},
		{"a date that is none", []string{"If-Modified-Since", "yesterday"}, 200},
		{"another tag goes before any date", []string{"If-None-Match", `"x"`, "If-Modified-Since", later}, 200},
		{"its own tag goes before any date", []string{"If-None-Match", tag, "If-Modified-Since", earlier}, 304},
		{"only if it were another", []string{"If-None-Match", tag, "If-Match", `"x"`}, 412},
	} {
		for _, method := range []string{"GET", "HEAD"} {
			t.Run(c.name+", "+method, func(t *testing.T) {
				r := site.ask(method, site.boat(t), c.headers...)
				body := bodyOf(t, r)
				if r.StatusCode != c.want || (r.StatusCode == 200 && method == "GET") != (body != "") {
					t.Errorf("got %d %q, want %d", r.StatusCode, body, c.want)
				}
				if r.StatusCode == 304 && r.Header.Get("ETag") != tag {
					t.Errorf("a 304 with the tag %q, want %q", r.Header.Get("ETag"), tag)
				}
			})
		}
	}
}

func TestFeedRefuses(t *testing.T) {
	broken := errors.New("disk gone")
	boat := func(generation int) link.Target {
		return link.Target{Scope: link.ScopeBoat, Subject: "B-1", Generation: generation}
	}
	for _, c := range []struct {
		name   string
		shelf  func(*feedShelf)
		method string
		path   func(*feedSite) string
		want   int
	}{
		{"an address that was never ours", nil, "GET", func(*feedSite) string { return "/cal/aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa.ics" }, 404},
		{"without .ics", nil, "GET", func(s *feedSite) string { return strings.TrimSuffix(s.boat(t), ".ics") }, 404},
		{"a token for another purpose", nil, "GET", func(s *feedSite) string { return s.path(t, link.PurposeMy, boat(2)) }, 404},
		{"a boat that is gone", nil, "GET", func(s *feedSite) string {
			return s.path(t, link.PurposeFeed, link.Target{Scope: link.ScopeBoat, Subject: "B-2", Generation: 2})
		}, 404},
		{"a withdrawn address", nil, "GET", func(s *feedSite) string { return s.path(t, link.PurposeFeed, boat(1)) }, 410},
		{"a withdrawn address, asked for its head", nil, "HEAD", func(s *feedSite) string { return s.path(t, link.PurposeFeed, boat(1)) }, 410},
		{"one from after the backup", nil, "GET", func(s *feedSite) string { return s.path(t, link.PurposeFeed, boat(3)) }, 404},
		{"no state", func(s *feedShelf) { s.stateErr = broken }, "GET", func(s *feedSite) string { return s.boat(t) }, 503},
		{"no bytes to be had", func(s *feedShelf) { s.bodyErr = broken }, "GET", func(s *feedSite) string { return s.boat(t) }, 503},
		{"no bytes to be had, but some", func(s *feedShelf) { s.bodyErr = broken; s.body = "BEGIN:VCAL" }, "GET", func(s *feedSite) string { return s.boat(t) }, 503},
		{"bytes of no length", func(s *feedShelf) { s.body = "" }, "GET", func(s *feedSite) string { return s.boat(t) }, 503},
		{"a post", nil, "POST", func(s *feedSite) string { return s.boat(t) }, 405},
		{"a calendar server's question", nil, "PROPFIND", func(s *feedSite) string { return s.boat(t) }, 405},
	} {
		t.Run(c.name, func(t *testing.T) {
			shelf := newShelf()
			if c.shelf != nil {
				c.shelf(shelf)
			}
			site := newFeedSite(t, shelf)
			r := site.ask(c.method, c.path(site))
			if r.StatusCode != c.want || r.Header.Get("ETag") != "" || r.Header.Get("Last-Modified") != "" || strings.Contains(r.Header.Get("Content-Type"), "calendar") {
				t.Errorf("got %d %v, want %d and nothing to keep", r.StatusCode, r.Header, c.want)
			}
			if (r.Header.Get("Retry-After") != "") != (c.want == 503) || (r.Header.Get("Allow") == "GET, HEAD") != (c.want == 405) {
				t.Errorf("headers %v", r.Header)
			}
			if logged := site.log.String(); (logged != "") != (c.want == 503) {
				t.Errorf("logged %q for a %d", logged, c.want)
			}
		})
	}
}

func TestFeedIsMadeOnlyWhenItChanged(t *testing.T) {
	shelf := newShelf()
	site := newFeedSite(t, shelf)
	ask := func(tag string, want, made int) string {
		t.Helper()
		r := site.ask("GET", site.boat(t), "If-None-Match", tag)
		if r.StatusCode != want || shelf.made != made {
			t.Errorf("got %d after %d makings, want %d after %d", r.StatusCode, shelf.made, want, made)
		}
		return r.Header.Get("ETag")
	}
	first := ask("", 200, 1)
	ask("", 200, 1)
	ask(first, 304, 1)

	shelf.body, shelf.changed = "BEGIN:VCALENDAR\r\nX:Y\r\nEND:VCALENDAR\r\n", feedMoment.Add(time.Second)
	second := ask(first, 200, 2)
	if second == first {
		t.Error("other bytes with the same tag")
	}
	ask(second, 304, 2)

	// A fault is not remembered, and does not cost the client what it has.
	shelf.changed, shelf.bodyErr = feedMoment.Add(time.Minute), errors.New("disk gone")
	ask(second, 503, 3)
	shelf.bodyErr = nil
	ask(second, 304, 4)
}

func TestRecentStatesAreBelievedForAMoment(t *testing.T) {
	shelf, now := newShelf(), feedMoment
	recent := feeds.NewRecent(shelf, time.Second, func() time.Time { return now })
	ask := func(want time.Time, fault bool) {
		t.Helper()
		s, err := recent.State(t.Context(), link.ScopeBoat, "B-1")
		if (err != nil) != fault || !fault && !s.Changed.Equal(want) {
			t.Errorf("got %v, %v; want %v, a fault: %v", s.Changed, err, want, fault)
		}
	}
	first, second := feedMoment, feedMoment.Add(time.Hour)
	ask(first, false)
	shelf.changed = second
	now = now.Add(time.Second - 1)
	ask(first, false)
	now = now.Add(1)
	ask(second, false)
	shelf.stateErr = errors.New("disk gone")
	ask(second, false)
	now = now.Add(time.Second)
	ask(second, true)
	shelf.stateErr = nil
	ask(second, false)
	now = feedMoment.Add(-time.Hour) // the clock was set back
	shelf.changed = first
	ask(first, false)
	if _, err := recent.State(t.Context(), link.ScopeBoat, "B-2"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("another boat: %v", err)
	}
}

func (*feedShelf) NoteFetch(link.Scope, string) {}
