package weather_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/weather"
)

var now = time.Date(2020, 7, 20, 11, 50, 0, 0, time.UTC)

// service is a weather service on this machine that counts what it is asked.
type service struct {
	*httptest.Server
	asked  int
	last   http.Header
	answer http.HandlerFunc
}

func newService(t *testing.T) *service {
	t.Helper()
	s := &service{}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.asked, s.last = s.asked+1, r.Header
		s.answer(w, r)
	}))
	t.Cleanup(s.Close)
	return s
}

const modified = "Mon, 20 Jul 2020 11:44:31 GMT"

// norway answers as the sample's own answer did.
func norway(t *testing.T) http.HandlerFunc {
	t.Helper()
	body, err := os.ReadFile("../../../../schedule/climate/watch/testdata/met-norway-compact.json")
	if err != nil {
		t.Fatal(err)
	}
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Expires", "Mon, 20 Jul 2020 12:14:53 GMT")
		w.Header().Set("Last-Modified", modified)
		if r.Header.Get("If-Modified-Since") == modified {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		w.Write(body)
	}
}

func client(jitter float64) *weather.Client {
	return &weather.Client{Agent: "Bellbuoy/test (service@lindrake.example)", Jitter: func() float64 { return jitter }}
}

func TestSaysWhoCallsAndAsksWhetherItChanged(t *testing.T) {
	s := newService(t)
	s.answer = norway(t)
	c := client(0.5)
	a, err := c.Fetch(t.Context(), s.URL, weather.State{}, now)
	if err != nil || a.Forecast == nil {
		t.Fatal(err)
	}
	if got := s.last.Get("User-Agent"); got != c.Agent || s.last.Get("If-Modified-Since") != "" {
		t.Errorf("first asked as %q, since %q", got, s.last.Get("If-Modified-Since"))
	}
	// Expires in 25 minutes: still no sooner than in an hour, and half the spread.
	if want := now.Add(65 * time.Minute); a.State.LastModified != modified || !a.State.Next.Equal(want) {
		t.Errorf("%+v, want next at %s", a.State, want)
	}
	b, err := c.Fetch(t.Context(), s.URL, a.State, now.Add(2*time.Hour))
	if err != nil || b.Forecast != nil || s.last.Get("If-Modified-Since") != modified || b.State.LastModified != modified {
		t.Errorf("asked again: %+v, %v, since %q", b, err, s.last.Get("If-Modified-Since"))
	}
}

func TestWaitsForExpires(t *testing.T) {
	s := newService(t)
	s.answer = func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Expires", now.Add(3*time.Hour).Format(http.TimeFormat))
		w.WriteHeader(http.StatusNotModified)
	}
	a, err := client(0).Fetch(t.Context(), s.URL, weather.State{LastModified: modified}, now)
	if err != nil || !a.State.Next.Equal(now.Add(3*time.Hour)) {
		t.Errorf("%+v, %v", a.State, err)
	}
}

func TestFailuresAreWaitedOut(t *testing.T) {
	s := newService(t)
	for _, c := range []struct {
		name     string
		answer   http.HandlerFunc
		failures int
		wait     time.Duration
		says     string
	}{
		{"blocked", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(403) }, 0, 24 * time.Hour, "shop.email"},
		{"too many, an hour", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(429) }, 0, time.Hour, "429"},
		{"too many, in its own words", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "7200")
			w.WriteHeader(429)
		}, 0, 2 * time.Hour, "429"},
		{"a Retry-After of a year", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "31536000")
			w.WriteHeader(503)
		}, 0, 24 * time.Hour, "503"},
		{"down for the fourth time", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(503) }, 3, 8 * time.Hour, "503"},
		{"down for long", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(503) }, 300, 24 * time.Hour, "503"},
		{"cut off", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", "5000")
			w.Write([]byte(`{"properties":`))
		}, 0, time.Hour, "cut off"},
		{"nonsense", func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte("<html>")) }, 0, time.Hour, "line 1"},
		{"elsewhere", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "https://127.0.0.1:1/", http.StatusFound)
		}, 0, time.Hour, "elsewhere"},
	} {
		s.answer = c.answer
		a, err := client(0).Fetch(t.Context(), s.URL, weather.State{LastModified: modified, Failures: c.failures}, now)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
		if a.Forecast != nil || !a.State.Next.Equal(now.Add(c.wait)) || a.State.Failures != c.failures+1 || a.State.LastModified != modified {
			t.Errorf("%s: %+v, want a wait of %s", c.name, a.State, c.wait)
		}
	}
}

func TestASlowServiceEndsWithTheCaller(t *testing.T) {
	s := newService(t)
	s.answer = func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() }
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	a, err := client(0).Fetch(ctx, s.URL, weather.State{}, now)
	if err == nil || a.State.Failures != 1 || !a.State.Next.Equal(now.Add(time.Hour)) {
		t.Errorf("%+v, %v", a.State, err)
	}
}

// A day of ticks a minute apart asks at most once an hour.
func TestAtMostHourly(t *testing.T) {
	s := newService(t)
	s.answer = func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNotModified) }
	for i, jitter := range []float64{0, 0.99} {
		s.asked = 0
		st := weather.State{LastModified: modified}
		for at := now; at.Before(now.Add(24 * time.Hour)); at = at.Add(time.Minute) {
			if at.Before(st.Next) {
				continue
			}
			a, err := client(jitter).Fetch(t.Context(), s.URL, st, at)
			if err != nil {
				t.Fatal(err)
			}
			st = a.State
		}
		if want := []int{24, 21}[i]; s.asked != want {
			t.Errorf("jitter %g: asked %d times, want %d", jitter, s.asked, want)
		}
	}
}
