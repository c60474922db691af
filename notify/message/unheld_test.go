package message_test

import (
	"strings"
	"testing"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
)

// TestNoRoomIsPromisedThatIsNotKept: a visit without a week has no hours in the
// shop, whatever day would suit it best.
func TestNoRoomIsPromisedThatIsNotKept(t *testing.T) {
	r := fixture.Renderer(t, nil)
	subjects := map[schedule.Step]string{
		schedule.StepInvitation: "Heron: winterization about Oct 6, which day suits you?",
		schedule.StepNudge:      "Heron: winterization about Oct 6, no day chosen yet",
		schedule.StepLastCall:   "Heron: winterization due by Oct 10, not booked yet",
		schedule.StepOverdue:    "Heron: winterization was due by Oct 10",
	}
	seen := 0
	for name, n := range fixture.Cases(t) {
		want, ok := subjects[n.Step]
		if !ok || len(n.Visits) != 1 || strings.HasPrefix(name, "first") {
			continue
		}
		seen++
		n.Visits[0].Visit.Visit.Week, n.Visits[0].Visit.Visit.Day, n.Visits[0].NamedWeek = 0, fixture.Day("2026-10-06"), 0
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		if l.Subject != want {
			t.Errorf("%s: subject %q, want %q", name, l.Subject, want)
		}
		_, text, _ := fixture.Bodies(t, l.Raw)
		for _, promise := range []string{"room", "planned", "enciled in"} {
			if strings.Contains(text, promise) {
				t.Errorf("%s promises %q:\n%s", name, promise, text)
			}
		}
	}
	if seen < len(subjects) {
		t.Errorf("only %d letters looked at", seen)
	}
}

// TestAMissedDayIsNotCalledSilence: whoever had booked a day that passed without
// recorded work is not told that nobody heard from them.
func TestAMissedDayIsNotCalledSilence(t *testing.T) {
	r := fixture.Renderer(t, nil)
	seen := map[schedule.Step]bool{}
	for name, n := range fixture.Cases(t) {
		switch n.Step {
		case schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue:
		default:
			continue
		}
		seen[n.Step] = true
		n.Visits[0].Visit.Visit.Missed = fixture.Day("2026-09-22")
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		_, text, _ := fixture.Bodies(t, l.Raw)
		text = strings.Join(strings.Fields(text), " ")
		if !strings.Contains(text, "The booked day, Sep 22, has passed and no work is on record.") ||
			strings.Contains(text, "not had your reply") || strings.Contains(text, "last reminder") {
			t.Errorf("%s says %s", name, text)
		}
	}
	if len(seen) != 4 {
		t.Errorf("only %v looked at", seen)
	}
}

// TestNoGasolineCautionOnADiesel: a fit-out's mail warns of the fumes that the
// boat may have.
func TestNoGasolineCautionOnADiesel(t *testing.T) {
	r := fixture.Renderer(t, nil)
	n := fixture.Cases(t)["invitation"]
	n.Visits[0].Visit.Visit.Kind = schedule.FitOut
	for _, none := range []bool{false, true} {
		n.Visits[0].Visit.NoGasoline = none
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		_, text, _ := fixture.Bodies(t, l.Raw)
		if warned := strings.Contains(text, "gasoline"); warned == none {
			t.Errorf("nothing burns gasoline: %t; warned: %t", none, warned)
		}
	}
}
