package site

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"bellbuoy/notify/link"
	"bellbuoy/store"
)

// FeedState is what a conditional request is checked against.
type FeedState struct {
	Generation int
	// Changed moves whenever the feed's bytes do, and never back: also when
	// events come into its window or leave it.
	Changed time.Time
}

// FeedBody is a feed's bytes as of Changed.
type FeedBody struct {
	Body    []byte
	Changed time.Time
	Cut     int // events left off because the feed was full
}

// FeedSource is where feeds come from. Both methods report
// [store.ErrNotFound] for a feed of nothing we know.
type FeedSource interface {
	// FeedState is asked on every request and so must cost little.
	FeedState(ctx context.Context, scope link.Scope, subject string) (FeedState, error)
	// FeedBody is asked when the bytes are not at hand.
	FeedBody(ctx context.Context, scope link.Scope, subject string) (FeedBody, error)
	// NoteFetch is told that a calendar program holds a feed as it is now.
	NoteFetch(scope link.Scope, subject string)
}

// Feeds answers /cal/TOKEN.ics. Calendar programs give up, or empty what they
// show, on answers that browsers would shrug at; so it says 404 for an address
// that was never ours (they keep what they have), 410 only for one that was
// withdrawn (they stop asking), and 503 for any fault of ours: never an empty
// or partial 200.
type Feeds struct {
	addresses *link.Maker
	source    FeedSource
	log       *slog.Logger
	cache     *feedCache
}

// NewFeeds answers for source under the given addresses.
func NewFeeds(addresses *link.Maker, source FeedSource, log *slog.Logger) *Feeds {
	return &Feeds{addresses: addresses, source: source, log: log, cache: newFeedCache(feedCacheBytes, feedCacheTags)}
}

// feedRetry is when a client may ask again after a fault of ours, in seconds.
const feedRetry = "600"

// ServeHTTP answers GET and HEAD for a pattern with a {token}.
func (f *Feeds) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Cache-Control", "private, no-cache")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("X-Robots-Tag", "noindex")
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		h.Set("Allow", "GET, HEAD")
		feedRefuse(w, http.StatusMethodNotAllowed, "A calendar can only be read.")
		return
	}
	token, ics := strings.CutSuffix(r.PathValue("token"), ".ics")
	to, ours := f.addresses.Parse(link.PurposeFeed, token)
	if !ics || !ours {
		feedRefuse(w, http.StatusNotFound, "There is no calendar at this address.")
		return
	}
	state, err := f.source.FeedState(r.Context(), to.Scope, to.Subject)
	if err != nil {
		f.fault(w, r, to, err)
		return
	}
	switch to.Status(state.Generation) {
	case link.Revoked:
		feedRefuse(w, http.StatusGone, "This calendar address was withdrawn. Ask the shop for a new one.")
	case link.Unknown:
		feedRefuse(w, http.StatusNotFound, "There is no calendar at this address.")
	default:
		if r.Method == http.MethodGet {
			f.source.NoteFetch(to.Scope, to.Subject)
		}
		f.send(w, r, to, state)
	}
}

// send answers with the feed, or with 304. If the client has the bytes that we
// last served and nothing has changed since, they are not even made.
func (f *Feeds) send(w http.ResponseWriter, r *http.Request, to link.Target, state FeedState) {
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
func (f *Feeds) load(ctx context.Context, to link.Target) (cachedFeed, error) {
	b, err := f.source.FeedBody(ctx, to.Scope, to.Subject)
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
func (f *Feeds) fault(w http.ResponseWriter, r *http.Request, to link.Target, err error) {
	if errors.Is(err, store.ErrNotFound) {
		feedRefuse(w, http.StatusNotFound, "There is no calendar at this address.")
		return
	}
	if r.Context().Err() == nil { // else the client has left, and that is no fault
		f.log.ErrorContext(r.Context(), "calendar feed failed", "scope", to.Scope, "subject", to.Subject, "error", err)
	}
	w.Header().Set("Retry-After", feedRetry)
	feedRefuse(w, http.StatusServiceUnavailable, "The calendar cannot be read at the moment. It will be back.")
}

func feedRefuse(w http.ResponseWriter, code int, words string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(code)
	fmt.Fprintln(w, words)
}

// Robots answers /robots.txt. Feeds may be fetched, since calendar programs are
// said to obey it; a search engine keeps them out by their own header. The rest
// is nobody's to crawl.
func Robots(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "public, max-age=86400")
	_, _ = io.WriteString(w, "User-agent: *\nAllow: /cal/\nDisallow: /\n")
}
