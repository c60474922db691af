package feed_test

import (
	"testing"

	"bellbuoy/notify/feed"
)

// BenchmarkBoatEvents is what a re-plan pays for each boat's feed: seven events
// made and hashed ("unchanged"), or hashed and rendered ("changed").
func BenchmarkBoatEvents(b *testing.B) {
	shop, view, links := feedShop(b), feedView(), feedLinks()
	for _, c := range []struct {
		name   string
		render bool
	}{{"unchanged", false}, {"changed", true}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				for _, e := range feed.BoatEvents(shop, view, links, feedToday) {
					lines := feedLines(b, e)
					if lines.Hash() == "" {
						b.Fatal("no hash")
					}
					if c.render {
						if _, err := lines.Render(3, feedChanged); err != nil {
							b.Fatal(err)
						}
					}
				}
			}
		})
	}
}

// BenchmarkCalendar is what a full answer of a large feed costs: 500 events put
// together and checked.
func BenchmarkCalendar(b *testing.B) {
	blocks := make([][]byte, feed.MaxEvents)
	for i := range blocks {
		e := feedPlain()
		e.UID = feed.UID("example.com", string(rune('a'+i)))
		e.Description = "What is planned:\n- Winterization. Boats at Mirror Lake are winterized by October 25, 2027."
		blocks[i] = feedRender(b, e)
	}
	for b.Loop() {
		if _, err := feed.Calendar(feed.Head{Name: "All visits"}, blocks); err != nil {
			b.Fatal(err)
		}
	}
}
