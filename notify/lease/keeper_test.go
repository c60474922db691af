package lease

import (
	"bytes"
	"context"
	"crypto/md5"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"
)

// shelf is S3's answer to reading and conditionally writing one object, after the
// service's documentation of GetObject and PutObject. The drill in testdata/failover
// runs against a server that others wrote.
type shelf struct {
	mu      sync.Mutex
	body    []byte
	blind   bool                                       // it does not know conditions
	trouble func(w http.ResponseWriter, put bool) bool // answers in place of it
	after   func(w http.ResponseWriter, put bool) bool // the same once it has written
	puts    int
}

func (s *shelf) tag() string {
	if s.body == nil {
		return ""
	}
	return fmt.Sprintf("%q", fmt.Sprintf("%x", md5.Sum(s.body)))
}

func (s *shelf) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	put := r.Method == http.MethodPut
	if s.trouble != nil && s.trouble(w, put) {
		return
	}
	if !strings.HasPrefix(r.Header.Get("Authorization"), "AWS4-HMAC-SHA256 Credential=key/") || r.Header.Get("X-Amz-Content-Sha256") == "" {
		http.Error(w, "not signed", http.StatusForbidden)
		return
	}
	if !put {
		if s.body == nil {
			http.Error(w, "NoSuchKey", http.StatusNotFound)
			return
		}
		w.Header().Set("ETag", s.tag())
		w.Write(s.body)
		return
	}
	s.puts++
	match, none := r.Header.Get("If-Match"), r.Header.Get("If-None-Match")
	if !s.blind && (match != "" && match != s.tag() || none == "*" && s.body != nil) {
		http.Error(w, "PreconditionFailed", http.StatusPreconditionFailed)
		return
	}
	s.body, _ = io.ReadAll(r.Body)
	if s.after != nil && s.after(w, put) {
		return
	}
	w.Header().Set("ETag", s.tag())
}

// hands are several keepers by one clock that the test moves.
type keepers struct {
	*shelf
	url string
	now time.Time
	log bytes.Buffer
}

func newKeepers(t *testing.T) *keepers {
	h := &keepers{shelf: &shelf{}, now: begin}
	srv := httptest.NewServer(h.shelf)
	t.Cleanup(srv.Close)
	h.url = srv.URL + "/our-bucket/lease"
	return h
}

func (h *keepers) keeper(me string) *Keeper {
	keys := func() (string, string, error) { return "key", "secret", nil }
	return NewKeeper(&Object{URL: h.url, Region: "us-east-1", Keys: keys}, me, func() time.Time { return h.now }, slog.New(slog.NewTextHandler(&h.log, nil)))
}

// turns has keepers take their turns every ten seconds for so many seconds.
func (h *keepers) turns(seconds int, all ...*Keeper) {
	for range seconds / 10 {
		h.now = h.now.Add(10 * time.Second)
		for _, k := range all {
			k.turnLogged(context.Background())
		}
	}
}

func TestOneKeeperAndItsHeir(t *testing.T) {
	h := newKeepers(t)
	a, b := h.keeper("A"), h.keeper("B")
	h.turns(50, a, b)
	if a.MaySend() || b.MaySend() {
		t.Fatalf("after 40 seconds of it A sends %v, B %v; want neither", a.MaySend(), b.MaySend())
	}
	h.turns(300, a, b)
	if !a.MaySend() || b.MaySend() {
		t.Fatalf("A sends %v, B %v; want A alone", a.MaySend(), b.MaySend())
	}
	h.turns(20, b) // A stopped
	if a.MaySend() || b.MaySend() {
		t.Fatalf("20 seconds after A stopped A sends %v, B %v", a.MaySend(), b.MaySend())
	}
	h.turns(50, b)
	if b.MaySend() {
		t.Error("B took it 30 seconds after A stopped and does not wait 45")
	}
	h.turns(10, b)
	if !b.MaySend() {
		t.Error("80 seconds after A stopped B does not send")
	}
	if a.Elsewhere() || b.Elsewhere() {
		t.Errorf("A has not looked since it stopped, B has the lease; elsewhere: %v, %v", a.Elsewhere(), b.Elsewhere())
	}
	h.turns(10, a, b) // A wakes up
	if a.MaySend() || !b.MaySend() || !a.Elsewhere() || b.Elsewhere() {
		t.Errorf("after A woke up A sends %v, B %v; elsewhere: %v, %v; want B alone, and A to know it", a.MaySend(), b.MaySend(), a.Elsewhere(), b.Elsewhere())
	}
	for _, want := range []string{"this machine has the lease", "another machine has the lease: this one sends no email and takes no forms"} {
		if !strings.Contains(h.log.String(), want) {
			t.Errorf("the log does not say %q:\n%s", want, &h.log)
		}
	}
}

// TestTheStorageIsNotThere: what fails for a while is tried again and said once. A
// write that landed although its answer was lost takes nothing from its writer.
func TestTheStorageIsNotThere(t *testing.T) {
	broken := func(w http.ResponseWriter, _ bool) bool {
		http.Error(w, "<Code>SlowDown</Code>", http.StatusServiceUnavailable)
		return true
	}
	for name, c := range map[string]struct {
		breaks  func(*shelf)
		seconds int
		sends   bool // by the end of the fault
	}{
		"for one turn":              {func(s *shelf) { s.trouble = broken }, 10, true},
		"for two":                   {func(s *shelf) { s.trouble = broken }, 20, false},
		"its answer is lost":        {func(s *shelf) { s.after = broken }, 10, true},
		"every answer is lost":      {func(s *shelf) { s.after = broken }, 60, false},
		"the conflict of two":       {func(s *shelf) { s.trouble = conflict }, 10, true},
		"somebody removed the keys": {func(s *shelf) { s.trouble = forbidden }, 40, false},
	} {
		t.Run(name, func(t *testing.T) {
			h := newKeepers(t)
			a := h.keeper("A")
			h.turns(60, a)
			c.breaks(h.shelf)
			h.turns(c.seconds, a)
			if a.MaySend() != c.sends {
				t.Errorf("by its end A sends %v, want %v", a.MaySend(), c.sends)
			}
			h.trouble, h.after = nil, nil
			h.turns(10, a)
			if !a.MaySend() {
				t.Error("A does not send though nobody else took the lease")
			}
			if n := strings.Count(h.log.String(), "could not be renewed"); n > 1 {
				t.Errorf("said %d times:\n%s", n, &h.log)
			}
		})
	}
}

func conflict(w http.ResponseWriter, put bool) bool {
	if put {
		http.Error(w, "ConditionalRequestConflict", http.StatusConflict)
	}
	return put
}

func forbidden(w http.ResponseWriter, _ bool) bool {
	http.Error(w, "AccessDenied", http.StatusForbidden)
	return true
}

// TestAStorageWithoutConditions is worth nothing as a fence, and nothing is sent.
func TestAStorageWithoutConditions(t *testing.T) {
	h := newKeepers(t)
	h.blind = true
	a := h.keeper("A")
	h.turns(300, a)
	if a.MaySend() || !strings.Contains(h.log.String(), "does not honor If-Match") {
		t.Errorf("A sends %v:\n%s", a.MaySend(), &h.log)
	}
}

func TestAnotherObjectIsLeftAlone(t *testing.T) {
	h := newKeepers(t)
	h.body = []byte("somebody's picture")
	a := h.keeper("A")
	h.turns(300, a)
	if a.MaySend() || h.puts > 0 || !strings.Contains(h.log.String(), "name an object of its own") {
		t.Errorf("A sends %v after %d writes:\n%s", a.MaySend(), h.puts, &h.log)
	}
}
