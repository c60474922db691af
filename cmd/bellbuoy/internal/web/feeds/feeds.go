// Package feeds answers calendar addresses: a token comes in, a calendar's bytes or a
// 304 go out. It knows no page and no person who is signed in: the address is the key.
package feeds

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"bellbuoy/notify/link"
	"bellbuoy/store"
)

// State is what a conditional request is checked against.
type State struct {
	Generation int
	// Changed moves whenever the feed's bytes do, and never back: also when
	// events come into its window or leave it.
	Changed time.Time
}

// Body is a feed's bytes as of Changed.
type Body struct {
	Body    []byte
	Changed time.Time
	Cut     int // events left off because the feed was full
}

// Source is where feeds come from. Both methods report
// [store.ErrNotFound] for a feed of nothing we know.
type Source interface {
	// State is asked on every request and so must cost little.
	State(ctx context.Context, scope link.Scope, subject string) (State, error)
	// Body is asked when the bytes are not at hand.
	Body(ctx context.Context, scope link.Scope, subject string) (Body, error)
	// NoteFetch is told that a calendar program holds a feed as it is now.
	NoteFetch(scope link.Scope, subject string)
}

// Endpoint answers /cal/TOKEN.ics. Calendar programs give up, or empty what they
// show, on answers that browsers would shrug at; so it says 404 for an address
// that was never ours (they keep what they have), 410 only for one that was
// withdrawn (they stop asking), and 503 for any fault of ours: never an empty
// or partial 200.
type Endpoint struct {
	addresses *link.Maker
	source    Source
	log       *slog.Logger
	cache     *cache
}

// New answers for source under the given addresses.
func New(addresses *link.Maker, source Source, log *slog.Logger) *Endpoint {
	return &Endpoint{addresses: addresses, source: source, log: log, cache: newCache(cacheBytes, cacheTags)}
}

// retryAfter is when a client may ask again after a fault of ours, in seconds.
const retryAfter = "600"

// ServeHTTP answers GET and HEAD for a pattern with a {token}.
func (f *Endpoint) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Cache-Control", "private, no-cache")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("X-Robots-Tag", "noindex")
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		h.Set("Allow", "GET, HEAD")
		refuse(w, http.StatusMethodNotAllowed, "A calendar can only be read.")
		return
	}
	token, ics := strings.CutSuffix(r.PathValue("token"), ".ics")
	to, ours := f.addresses.Parse(link.PurposeFeed, token)
	if !ics || !ours {
		refuse(w, http.StatusNotFound, "There is no calendar at this address.")
		return
	}
	state, err := f.source.State(r.Context(), to.Scope, to.Subject)
	if err != nil {
		f.fault(w, r, to, err)
		return
	}
	switch to.Status(state.Generation) {
	case link.Revoked:
		refuse(w, http.StatusGone, "This calendar address was withdrawn. Ask the shop for a new one.")
	case link.Unknown:
		refuse(w, http.StatusNotFound, "There is no calendar at this address.")
	default:
		if r.Method == http.MethodGet {
			f.source.NoteFetch(to.Scope, to.Subject)
		}
		f.send(w, r, to, state)
	}
}

// send answers with the feed, or with 304. If the client has the bytes that we
// last served and nothing has changed since, they are not even made.
func (f *Endpoint) send(w http.ResponseWriter, r *http.Request, to link.Target, state State) {
	feed, known := f.cache.get(to, state.Changed)
	has := known && strings.TrimPrefix(r.Header.Get("If-None-Match"), "W/") == feed.tag
	if !has && feed.body == nil {
		var err error
		if feed, err = f.load(r.Context(), to); err != nil {
			f.fault(w, r, to, err)
			return
		}
	}
	w.Header().Set("ETag", feed.tag)
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	// With a body left out, the tag just compared makes this a 304 (or, by a
	// stricter header, a 412): the body is not looked at.
	http.ServeContent(w, r, "", feed.changed, bytes.NewReader(feed.body))
}

// load gets the bytes and remembers them.
func (f *Endpoint) load(ctx context.Context, to link.Target) (cachedFeed, error) {
	b, err := f.source.Body(ctx, to.Scope, to.Subject)
	if err != nil {
		return cachedFeed{}, err
	}
	if len(b.Body) == 0 {
		return cachedFeed{}, errors.New("the feed has no bytes; a feed without events has some")
	}
	if b.Cut > 0 {
		f.log.WarnContext(ctx, "calendar feed is full", "scope", to.Scope, "subject", to.Subject, "left_off", b.Cut)
	}
	sum := sha256.Sum256(b.Body)
	feed := cachedFeed{tag: `"` + base64.RawURLEncoding.EncodeToString(sum[:]) + `"`, changed: b.Changed, body: b.Body}
	f.cache.put(to, feed)
	return feed, nil
}

// fault answers for what went wrong on our side, or for a subject that is gone.
func (f *Endpoint) fault(w http.ResponseWriter, r *http.Request, to link.Target, err error) {
	if errors.Is(err, store.ErrNotFound) {
		refuse(w, http.StatusNotFound, "There is no calendar at this address.")
		return
	}
	if r.Context().Err() == nil { // else the client has left, and that is no fault
		f.log.ErrorContext(r.Context(), "calendar feed failed", "scope", to.Scope, "subject", to.Subject, "error", err)
	}
	w.Header().Set("Retry-After", retryAfter)
	refuse(w, http.StatusServiceUnavailable, "The calendar cannot be read at the moment. It will be back.")
}

func refuse(w http.ResponseWriter, code int, words string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(code)
	fmt.Fprintln(w, words)
}
