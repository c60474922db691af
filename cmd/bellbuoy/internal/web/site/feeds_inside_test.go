package site

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/link"
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

func TestFeedCacheKeepsTagsAndLetsBodiesGo(t *testing.T) {
	c := newFeedCache(100, 5)
	moment := time.Unix(1_800_000_000, 0)
	at := func(i int) link.Target { return link.Target{Subject: fmt.Sprint(i)} }
	put := func(i, size int) {
		c.put(at(i), cachedFeed{tag: fmt.Sprint("t", i), changed: moment, body: make([]byte, size)})
	}
	state := func(n int) string {
		var b strings.Builder
		for i := range n {
			feed, ok := c.get(at(i), moment)
			fmt.Fprintf(&b, "%s:%d:%v ", feed.tag, len(feed.body), ok)
		}
		return b.String()
	}
	put(0, 40)
	put(1, 40)
	c.get(at(0), moment) // used last: 1 goes first
	put(2, 40)
	if got, want := state(3), "t0:40:true t1:0:true t2:40:true "; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	put(2, 60) // a new version of the same feed takes the place of the old
	if got, want := state(3), "t0:40:true t1:0:true t2:60:true "; got != want || c.bytes != 100 {
		t.Errorf("got %q and %d bytes, want %q and 100", got, c.bytes, want)
	}
	put(3, 500) // larger than everything: its tag stays
	if got, want := state(4), "t0:0:true t1:0:true t2:0:true t3:0:true "; got != want || c.bytes != 0 {
		t.Errorf("got %q and %d bytes, want %q and none", got, c.bytes, want)
	}
	if _, ok := c.get(at(0), moment.Add(time.Second)); ok {
		t.Error("an entry counts though the feed changed since")
	}
	put(4, 1)
	put(5, 1) // one address more than there is room for
	if got, want := state(6), ":0:false :0:false :0:false :0:false :0:false t5:1:true "; got != want || c.bytes != 1 {
		t.Errorf("got %q and %d bytes, want %q and 1", got, c.bytes, want)
	}
}
