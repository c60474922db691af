package feeds

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/link"
)

func TestCacheKeepsTagsAndLetsBodiesGo(t *testing.T) {
	c := newCache(100, 5)
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
