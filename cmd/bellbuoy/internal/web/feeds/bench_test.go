package feeds_test

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/feeds"
	"bellbuoy/notify/link"
	"bellbuoy/store"
)

// feedFile is a source whose state comes out of a real file on every request,
// as it does for the daemon.
type feedFile struct {
	db   *store.DB
	body []byte
}

func (f feedFile) State(ctx context.Context, scope link.Scope, subject string) (feeds.State, error) {
	s, err := f.db.FeedState(ctx, string(scope), subject)
	return feeds.State{Generation: s.Generation, Changed: feedMoment}, err
}

func (f feedFile) Body(context.Context, link.Scope, string) (feeds.Body, error) {
	return feeds.Body{Body: f.body, Changed: feedMoment}, nil
}

// BenchmarkFeed asks three servers in turn, over loopback with a kept
// connection each: a bare net/http handler with the same bytes and tag, ours as
// the daemon runs it ("ours"), and ours with the state read from the shop's file
// for every single request ("file"). It reports how fast ours are beside the
// bare one, 1 being as fast, by the medians of the same moments: a busy machine
// slows all three.
//
//	go test -run xxx -bench Feed ./cmd/bellbuoy/internal/web/feeds
func BenchmarkFeed(b *testing.B) {
	db, err := store.Open(b.Context(), filepath.Join(b.TempDir(), "shop.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	body := []byte(strings.Repeat("DESCRIPTION:Seventy-four octets of what is planned and why and about how\r\n", 140)) // about 10 kB
	file := newFeedSite(b, feedFile{db, body})
	ours := newFeedSite(b, feeds.NewRecent(feedFile{db, body}, time.Second, time.Now))
	desk := file.path(b, link.PurposeFeed, link.Target{Scope: link.ScopeDesk, Generation: 1})
	tag := ours.ask("GET", desk).Header.Get("ETag")
	bare := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("ETag", tag)
		w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
		http.ServeContent(w, r, "", feedMoment, bytes.NewReader(body))
	})
	for _, c := range []struct {
		name, tag string
		code      int
	}{{"unchanged", tag, 304}, {"full", "", 200}} {
		b.Run(c.name, func(b *testing.B) {
			ask := []func() time.Duration{
				asker(b, bare, desk, c.tag, c.code),
				asker(b, ours.handler, desk, c.tag, c.code),
				asker(b, file.handler, desk, c.tag, c.code),
			}
			took := make([][]time.Duration, len(ask))
			for b.Loop() {
				for i := range ask {
					took[i] = append(took[i], ask[i]())
				}
			}
			b.ReportMetric(median(took[0])/median(took[1]), "ours/bare")
			b.ReportMetric(median(took[0])/median(took[2]), "file/bare")
		})
	}
}

// asker starts a server and returns what asks it once.
func asker(b *testing.B, h http.Handler, path, tag string, code int) func() time.Duration {
	server := httptest.NewServer(h)
	b.Cleanup(server.Close)
	r, err := http.NewRequest("GET", server.URL+path, nil)
	if err != nil {
		b.Fatal(err)
	}
	if tag != "" {
		r.Header.Set("If-None-Match", tag)
	}
	client := server.Client()
	return func() time.Duration {
		begun := time.Now()
		answer, err := client.Do(r)
		if err != nil {
			b.Fatal(err)
		}
		defer answer.Body.Close()
		if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != code {
			b.Fatalf("%d, %v; want %d", answer.StatusCode, err, code)
		}
		return time.Since(begun)
	}
}

func median(ds []time.Duration) float64 {
	slices.Sort(ds)
	return float64(ds[len(ds)/2])
}

func (f feedFile) NoteFetch(link.Scope, string) {}
