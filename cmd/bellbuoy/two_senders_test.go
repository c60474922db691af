package main

import (
	"testing"
	"time"

	"bellbuoy/schedule"
)

// TestTwoDaemonsSendNothingTwice has two daemons on one file find the same emails
// waiting: each email goes out, and goes out once.
func TestTwoDaemonsSendNothingTwice(t *testing.T) {
	if testing.Short() {
		t.Skip("sends many emails")
	}
	s, box, day := sendingShop(t, "per_minute = 0\n")
	const total = 150
	queueLetters(t, s, day-1, total, 40)
	daemons := []*served{s.serve(t), s.serve(t)}
	for end := time.Now().Add(2 * patience); len(box.copies()) < total; time.Sleep(100 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%d of %d emails went out\n%s\n%s", len(box.copies()), total, daemons[0].lines(), daemons[1].lines())
		}
	}
	for _, d := range daemons {
		d.stop(t)
	}
	if counts, _ := s.tally(t, box); counts[schedule.MessageSent] != total {
		t.Errorf("%v, want %d sent", counts, total)
	}
}
