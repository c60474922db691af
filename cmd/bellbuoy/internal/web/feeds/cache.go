package feeds

import (
	"container/list"
	"sync"
	"time"

	"bellbuoy/notify/link"
)

// What the cache of feeds may hold. A feed is about 10 kB and is polled every
// few hours, so most bodies would be gone again before they are asked for;
// what makes a 304 cheap is the tag, and of those there is room for every boat.
const (
	cacheBytes = 4 << 20
	cacheTags  = 50_000
)

// cachedFeed is what was last served at an address. The body may have been let
// go while the tag is still known.
type cachedFeed struct {
	tag     string
	changed time.Time
	body    []byte
}

// cache remembers the tags of many feeds and the bodies of few. It decides
// nothing: an entry counts only while the feed has not changed since.
type cache struct {
	mu        sync.Mutex
	entries   map[link.Target]*entry
	bodies    *list.List // of link.Target, the last used first
	bytes     int
	mostBytes int
	mostTags  int
}

type entry struct {
	feed cachedFeed
	at   *list.Element // its place among the bodies, nil without one
}

func newCache(mostBytes, mostTags int) *cache {
	return &cache{entries: make(map[link.Target]*entry), bodies: list.New(), mostBytes: mostBytes, mostTags: mostTags}
}

// get returns what was served at an address if it has not changed since.
func (c *cache) get(to link.Target, changed time.Time) (cachedFeed, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	e, ok := c.entries[to]
	if !ok || !e.feed.changed.Equal(changed) {
		return cachedFeed{}, false
	}
	if e.at != nil {
		c.bodies.MoveToFront(e.at)
	}
	return e.feed, true
}

// put remembers what is served at an address now.
func (c *cache) put(to link.Target, feed cachedFeed) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if e, ok := c.entries[to]; ok {
		c.letGo(e)
	} else if len(c.entries) >= c.mostTags {
		// More addresses than boats: start afresh rather than keep an order
		// among all of them.
		clear(c.entries)
		c.bodies.Init()
		c.bytes = 0
	}
	e := &entry{feed: feed, at: c.bodies.PushFront(to)}
	c.entries[to] = e
	c.bytes += len(feed.body)
	for c.bytes > c.mostBytes {
		c.letGo(c.entries[c.bodies.Back().Value.(link.Target)])
	}
}

// letGo drops an entry's body and keeps its tag.
func (c *cache) letGo(e *entry) {
	if e.at == nil {
		return
	}
	c.bodies.Remove(e.at)
	c.bytes -= len(e.feed.body)
	e.at, e.feed.body = nil, nil
}
