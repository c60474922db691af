package notify_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule"
)

// TestNoRoomIsPromisedThatIsNotKept: a visit without a week has no hours in the
// shop, whatever day would suit it best.
func TestNoRoomIsPromisedThatIsNotKept(t *testing.T) {
	r := mailRenderer(t, nil)
	subjects := map[schedule.Step]string{
		schedule.StepInvitation: "Heron: winter lay-up about 6 October",
		schedule.StepNudge:      "Heron: winter lay-up about 6 October, which day suits you?",
		schedule.StepLastCall:   "Heron: winter lay-up due by 10 October, no day fixed yet",
		schedule.StepOverdue:    "Heron: winter lay-up was due by 10 October",
	}
	seen := 0
	for name, n := range mailCases(t) {
		want, ok := subjects[n.Step]
		if !ok || len(n.Visits) != 1 {
			continue
		}
		seen++
		n.Visits[0].Visit.Visit.Week, n.Visits[0].Visit.Visit.Day, n.Visits[0].NamedWeek = 0, mailDay("2026-10-06"), 0
		l, err := r.Letter(&n, mailLinks)
		if err != nil {
			t.Fatal(err)
		}
		if l.Subject != want {
			t.Errorf("%s: subject %q, want %q", name, l.Subject, want)
		}
		_, text, _ := mailBodies(t, l.Raw)
		for _, promise := range []string{"room", "encilled in", "free place"} {
			if strings.Contains(text, promise) {
				t.Errorf("%s promises %q:\n%s", name, promise, text)
			}
		}
	}
	if seen < len(subjects) {
		t.Errorf("only %d letters looked at", seen)
	}
}
