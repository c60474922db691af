package outbox_test

import (
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
)

// TestTakeOverSendsNoReminderTwice: of what waited when the other machine failed, a
// confirmation goes out again as it was, even from its final dot; a reminder does not.
func TestTakeOverSendsNoReminderTwice(t *testing.T) {
	db := mailing(t)
	steps := map[string]schedule.Step{"k1": schedule.StepConfirmation, "k2": schedule.StepInvitation, "k3": schedule.StepCancellation, "k4": schedule.StepNudge}
	ids := map[string]string{} // message id by key
	for _, key := range []string{"k1", "k2", "k3", "k4"} {
		l := letter(key)
		l.Step = steps[key]
		ids[key] = l.MessageID
		queue(t, db, l)
	}
	box := outbox.NewQueue(db)
	for range 2 { // k1 and k2 were at their dot
		l, err := box.Claim(t.Context(), noon, lease)
		if err != nil {
			t.Fatal(err)
		}
		if err := box.MarkDot(t.Context(), l.ID, l.LeaseToken, noon); err != nil {
			t.Fatal(err)
		}
	}
	later := noon.Add(time.Minute)
	if err := outbox.AfterTakeOver(t.Context(), db, later, "take over"); err != nil {
		t.Fatal(err)
	}
	if s, err := outbox.Sending(t.Context(), db.Reader); err != nil || s.HeldWhy != "" || !s.On {
		t.Errorf("sending is %+v, %v; want it to go on", s, err)
	}
	for _, key := range []string{"k1", "k3"} {
		l, err := box.Claim(t.Context(), later, lease)
		if err != nil || l.Key != key || l.MessageID != ids[key] || !l.DotAt.IsZero() {
			t.Fatalf("claimed %q <%s>, %v; want %s as it was", l.Key, l.MessageID, err, key)
		}
	}
	if l, err := box.Claim(t.Context(), later, lease); err == nil {
		t.Errorf("%s is given out: a reminder that may have been sent", l.Key)
	}
	counts, err := outbox.MessageCounts(t.Context(), db.Reader)
	if err != nil || counts[schedule.MessageUncertain] != 2 {
		t.Errorf("%v, %v; want two uncertain", counts, err)
	}
}
