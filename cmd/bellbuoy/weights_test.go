package main

import (
	"fmt"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"
)

// heaviest is the most that a page may weigh on its way, in bytes.
const heaviest = 20 << 10

// TestPagesAreLight weighs every kind of page of the whole demo as it goes over the
// wire, and prints a table with the time that each took, the best of three:
//
//	go test -v -run TestPagesAreLight ./cmd/bellbuoy
//
// Only the weight is held: how long a page takes depends on what else runs.
func TestPagesAreLight(t *testing.T) {
	if testing.Short() {
		t.Skip("invents a whole shop; a short run leaves it out")
	}
	s := &testShop{dir: t.TempDir(), today: "2026-09-23"}
	d := s.serve(t, "demo", "--keep", s.dir, "--listen", freeAddress(t))
	untilPage(t, d, "/outbox", regexp.MustCompile(`outbox/email`))
	var table strings.Builder
	for _, path := range lightPages(t, d) {
		best := time.Hour
		var packed string
		for range 3 {
			begun := time.Now()
			resp, body := d.get(t, http.MethodGet, d.base+path, "Accept-Encoding", "gzip")
			if best = min(best, time.Since(begun)); resp.StatusCode != http.StatusOK {
				t.Fatalf("%s: status %d", path, resp.StatusCode)
			}
			packed = body
		}
		_, plain := d.get(t, http.MethodGet, d.base+path, "Accept-Encoding", "identity")
		if len(packed) > heaviest {
			t.Errorf("%s weighs %d bytes, at most %d", path, len(packed), heaviest)
		}
		fmt.Fprintf(&table, "%-34s %8d %8d %7.1f\n", nameless(path), len(plain), len(packed), float64(best.Microseconds())/1000)
	}
	t.Logf("\n%-34s %8s %8s %7s\n%s", "page", "bytes", "sent", "ms", table.String())
	d.stop(t)
}

// lightPages are a page of each kind.
func lightPages(t *testing.T, d *served) []string {
	t.Helper()
	all := []string{"/", "/day", "/?week=2026-W39&part=overdue", "/?week=2026-W39&all=1", "/calls", "/replies", "/weeks", "/late", "/parts", "/email", "/sold", "/changes", "/import", "/duplicates",
		"/batteries", "/freeze", "/search?q=a", "/outbox", "/owner", "/owner/compare", "/owner/season", "/owner/returning", "/owner/ahead", "/owner/lapsed", "/owner/second-reminder", "/owner/work", "/owner/report"}
	first := func(page, link string) string {
		m := regexp.MustCompile(link).FindString(body(t, d, page))
		if m == "" {
			t.Fatalf("%s has no link like %s", page, link)
		}
		return html.UnescapeString(m)
	}
	boat := first("/", `/boats/[A-Z0-9]+`)
	return append(all, boat, boat+"/record", first("/", `/boats/[^/"]+/book\?[^"]+`), first("/", `/boats/[^/"]+/sheet\?[^"]+`), first("/day", `/boats/[^/"]+/work\?[^"]+`),
		first(boat, `/customers/[A-Z0-9]+`), first("/", `/static/log[^"]+`))
}

// nameless is an address without what differs from row to row.
func nameless(path string) string {
	path, _, _ = strings.Cut(path, "?")
	return regexp.MustCompile(`[BC]\d{5}`).ReplaceAllString(path, "ID")
}
