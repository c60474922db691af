package returns_test

import (
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/returns"
)

func TestPassage(t *testing.T) {
	tests := []struct {
		name  string
		p     returns.Passage
		reach returns.Reach
		fate  returns.Fate
	}{
		{"not due", returns.Passage{Done: true, Paid: 500}, returns.InCare, ""},
		{"not reminded", returns.Passage{Due: true}, returns.IsDue, returns.FateUntold},
		{"told and silent", returns.Passage{Due: true, Invited: true}, returns.Invited, returns.FateSilent},
		{"wants to be asked later", returns.Passage{Due: true, Invited: true, Answered: true}, returns.Answered, returns.FateAnswered},
		{"said no", returns.Passage{Due: true, Invited: true, Answered: true, Declined: true}, returns.Answered, returns.FateDeclined},
		{"booked a day", returns.Passage{Due: true, Invited: true, Answered: true, Booked: true}, returns.Booked, returns.FateBooked},
		{"came without a word", returns.Passage{Due: true, Done: true, Paid: 500}, returns.Done, returns.FateDone},
		{"repaired, the season's work not done", returns.Passage{Due: true, Invited: true, Paid: 500}, returns.Invited, returns.FateSilent},
		{"done elsewhere", returns.Passage{Due: true, Invited: true, Elsewhere: true}, returns.Invited, returns.FateElsewhere},
		{"sold on", returns.Passage{Due: true, Lost: true}, returns.IsDue, returns.FateLost},
		{"came, then sold on", returns.Passage{Due: true, Lost: true, Done: true}, returns.Done, returns.FateDone},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.p.Reach(); got != tt.reach {
				t.Errorf("reach %v, want %v", got, tt.reach)
			}
			if got := tt.p.Fate(); got != tt.fate {
				t.Errorf("fate %q, want %q", got, tt.fate)
			}
		})
	}
}

// TestFunnelNeverRises: whatever the facts, no step has more boats or money
// than the one before, the fates of the due boats sum to the due, and skipped
// ones are among those that passed.
func TestFunnelNeverRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		flag := func(t *rapid.T, name string) bool { return rapid.Bool().Draw(t, name) }
		all := rapid.SliceOf(rapid.Custom(func(t *rapid.T) returns.Passage {
			p := returns.Passage{
				Due: flag(t, "due"), Invited: flag(t, "invited"), Answered: flag(t, "answered"), Booked: flag(t, "booked"),
				Declined: flag(t, "declined"), Elsewhere: flag(t, "elsewhere"), Lost: flag(t, "lost"),
				List: measure.Cents(rapid.IntRange(0, 100000).Draw(t, "list")),
				Step: rapid.SampledFrom([]string{"", "invitation", "nudge"}).Draw(t, "step"),
			}
			if p.Done = flag(t, "done"); p.Done {
				p.Paid = 250
			}
			return p
		})).Draw(t, "all")
		f := returns.CountFunnel(all)
		for i, s := range f.Stages {
			if i > 0 && (s.Boats > f.Stages[i-1].Boats || s.List > f.Stages[i-1].List) || s.Skipped > s.Boats {
				t.Fatalf("%v: %+v after %+v", s.Reach, s, f.Stages[i-1])
			}
		}
		sum, steps := 0, 0
		for _, x := range f.Fates {
			sum += x.Boats
		}
		for _, x := range f.ByStep {
			steps += x.Boats
		}
		if f.Stages[0].Boats != len(all) || sum != f.Stages[returns.IsDue].Boats || steps != f.Stages[returns.Answered].Boats {
			t.Fatalf("%d boats, fates %d, steps %d: %+v", len(all), sum, steps, f)
		}
	})
}
