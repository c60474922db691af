package lease

import (
	"context"
	"net/http"
	"testing"
	"time"
)

// TestWhoIsAtWork: B has taken the lease from A. While B renews it, who is not B is told
// so; B's own machine is told nothing; and once B has ended, a lease that merely stands
// there keeps nobody from working.
func TestWhoIsAtWork(t *testing.T) {
	h := newKeepers(t)
	is := func(name string) func(string) bool { return func(holder string) bool { return holder == name } }
	look := func(name, want string) {
		t.Helper()
		o := h.keeper("a command").object
		if got, err := atWork(t.Context(), o, is(name), time.Millisecond); err != nil || got != want {
			t.Errorf("to %q %q is at work, %v; want %q", name, got, err, want)
		}
	}
	look("A", "") // nobody has written it
	a, b := h.keeper("A"), h.keeper("B")
	h.turns(10, a)
	h.turns(60, b) // A has died
	if !b.claim.Held() {
		t.Fatal("B does not have the lease")
	}
	look("A", "")
	looks := 0
	h.trouble = func(http.ResponseWriter, bool) bool {
		if looks++; looks%5 == 0 { // B renews
			h.body = append(h.body, ' ')
		}
		return false
	}
	look("B", "")
	if looks != 1 {
		t.Errorf("B's own machine looked %d times, want once", looks)
	}
	look("A", "B")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := atWork(ctx, h.keeper("A").object, is("A"), time.Millisecond); err == nil {
		t.Error("a look that was called off found nothing wrong")
	}
}
