package send_test

import (
	"sync/atomic"
	"testing"

	"bellbuoy/notify/send"
)

// TestNoLetterWithoutTheLease: from the moment on at which this process may not send
// any more nothing is claimed, and a letter that waits for its dot is put back as if it
// had not been claimed. Each letter asks twice, before it is claimed and at its dot.
func TestNoLetterWithoutTheLease(t *testing.T) {
	for _, c := range []struct {
		asked   int32 // how often the answer is yes
		states  string
		claimed int
		sent    int
	}{
		{0, "queued/0 queued/0 queued/0", 0, 0},
		{1, "queued/0 queued/0 queued/0", 1, 0},
		{2, "sent/1 queued/0 queued/0", 1, 1},
		{3, "sent/1 queued/0 queued/0", 2, 1},
		{5, "sent/1 sent/1 queued/0", 3, 2},
	} {
		srv := serveScript(t, script{})
		box := newBox(3)
		var asked atomic.Int32
		sender := newSender(t, box, srv, func(s *send.Config) { s.MaySend = func() bool { return asked.Add(1) <= c.asked } })
		res, err := sender.Drain(t.Context(), at(senderNow), 10)
		if err != nil || res != (send.Result{Sent: c.sent, Stopped: "this machine does not have the lease"}) {
			t.Errorf("yes %d times: %+v, %v", c.asked, res, err)
		}
		if box.states() != c.states || box.tokens != c.claimed || len(srv.took()) != c.sent {
			t.Errorf("yes %d times: the letters are %s, %d were claimed, %d arrived; want %s, %d, %d", c.asked, box.states(), box.tokens, len(srv.took()), c.states, c.claimed, c.sent)
		}
	}
}
