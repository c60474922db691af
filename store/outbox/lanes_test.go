package outbox_test

import (
	"errors"
	"fmt"
	gosync "sync"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// TestLettersOfManyLanes has several senders at one outbox: each letter is given
// to one of them, a foreign token stops nobody else, and all come through.
func TestLettersOfManyLanes(t *testing.T) {
	db := mailing(t)
	const n = 60
	var all []schedule.Message
	for i := range n {
		all = append(all, letter(fmt.Sprint("k", i)))
	}
	queue(t, db, all...)
	var mu gosync.Mutex
	given := map[int64]int{}
	var wg gosync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for {
				l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
				if errors.Is(err, store.ErrNone) {
					return
				}
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				given[l.ID]++
				mu.Unlock()
				if err := outbox.NewQueue(db).MarkDot(t.Context(), l.ID, "another", noon); !errors.Is(err, store.ErrLostLease) {
					t.Errorf("a foreign token: %v", err)
				}
				if err := outbox.NewQueue(db).MarkDot(t.Context(), l.ID, l.LeaseToken, noon); err != nil {
					t.Error(err)
				}
				out := schedule.Outcome{State: schedule.MessageSent, Code: 250}
				if err := outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, out, noon); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	for id, times := range given {
		if times != 1 {
			t.Errorf("letter %d was given out %d times", id, times)
		}
	}
	if counts, err := outbox.MessageCounts(t.Context(), db.Reader); err != nil || len(given) != n || counts[schedule.MessageSent] != n {
		t.Errorf("%d given out, %v, %v; want %d sent", len(given), counts, err, n)
	}
}
