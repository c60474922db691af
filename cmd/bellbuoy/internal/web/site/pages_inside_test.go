package site

import (
	"html/template"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// Shops of one process share parsed pages; however many render a page at the same
// time, each finds its own words in it. Run with the race detector by .ci/run.
func TestAPageIsRenderedByOneAtATime(t *testing.T) {
	key := pageKey{"en", "a page"}
	shops := runtime.GOMAXPROCS(0)
	shared := &Pages{idle: make(map[pageKey][]*template.Template)}
	for range shops { // so many that none has to be parsed
		set := template.New("layout.html").Funcs(template.FuncMap{"shop": func() string { return "" }})
		shared.idle[key] = append(shared.idle[key], template.Must(set.Parse("{{shop}}")))
	}
	var all sync.WaitGroup
	for i := range shops {
		all.Go(func() {
			own := strconv.Itoa(i)
			p := &pages{Pages: shared, words: map[string][]template.FuncMap{
				key.language: {{"shop": func() string { return own }}},
			}}
			for range 2000 {
				var got strings.Builder
				if err := p.render(&got, key.language, key.name, nil); err != nil || got.String() != own {
					t.Errorf("shop %s reads %q, %v", own, got.String(), err)
					return
				}
			}
		})
	}
	all.Wait()
}
