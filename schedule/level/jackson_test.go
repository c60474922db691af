package level_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// Jackson (Scheduling a production line to minimize maximum tardiness, 1955;
// from memory): on one machine the order of due dates makes the largest
// lateness as small as can be. So a set of unit jobs on a shop that does one a
// week is in time, after all deadlines are put off by k weeks, exactly if k is
// at least the largest lateness of that order.
func TestJackson(t *testing.T) {
	for _, c := range []struct {
		name    string
		lengths []int // in weeks; a job of n weeks is n unit jobs here
		due     []int
		want    int // largest lateness of the order of due dates
	}{
		// An example much used in lectures on greedy algorithms; five public
		// programs carry the same data and result.
		{"lecture example", []int{3, 2, 1, 4, 3, 2}, []int{6, 8, 9, 9, 14, 15}, 1},
		{"all in time", []int{1, 2, 3}, []int{1, 3, 6}, 0},
		{"all at once", []int{1, 1, 1, 1}, []int{1, 1, 1, 1}, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			var due []int
			for i, n := range c.lengths {
				due = append(due, slices.Repeat([]int{c.due[i]}, n)...)
			}
			if got := latest(due); got != c.want {
				t.Fatalf("the order of due dates is %d late, want %d", got, c.want)
			}
			checkJackson(t, due)
		})
	}
	t.Run("drawn", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			checkJackson(t, rapid.SliceOfN(rapid.IntRange(1, 12), 1, 15).Draw(t, "due"))
		})
	})
}

// latest is the largest lateness of unit jobs in order of due dates, not less
// than 0.
func latest(due []int) int {
	worst := 0
	for i, d := range slices.Sorted(slices.Values(due)) {
		worst = max(worst, i+1-d)
	}
	return worst
}

func checkJackson(t rapid.TB, due []int) {
	weeks := shop(slices.Repeat([]int{1}, 40)...)
	late := func(put int) int {
		var jobs []level.Job
		for i, d := range due {
			jobs = append(jobs, job(fmt.Sprint("job-", i), 1, 1, d+put))
		}
		return len(level.Fit(weeks, jobs, 0).AtRisk)
	}
	k := latest(due)
	if n := late(k); n != 0 {
		t.Errorf("deadlines put off by %d weeks: %d jobs at risk, want none", k, n)
	}
	if k > 0 && late(k-1) == 0 {
		t.Errorf("deadlines put off by %d weeks: all in time, which cannot be", k-1)
	}
}

// No plan can have a lower peak than one in which visits may be split, and that
// is the work that must be done in some run of weeks over their hours. Where
// no week is short, the plan's peak is above it by less than one visit.
func TestPeakAgainstSplitVisits(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for seed := range uint64(8) {
		weeks, jobs := fleet(300+400*int(seed), 0.2+0.03*float64(seed), seed)
		t.Run(fmt.Sprintf("%d jobs", len(jobs)), func(t *testing.T) {
			bound := splitBound(weeks, jobs)
			r := level.Fit(weeks, jobs, 0)
			if len(r.AtRisk) > 0 || r.Peak >= 1 {
				t.Fatalf("%d at risk, peak %.3f: this shop was meant to be roomy", len(r.AtRisk), r.Peak)
			}
			e := excess(r, bound)
			t.Logf("split %.4f, peak %.4f: %d minutes above, longest visit %d", bound, r.Peak, e, longest(jobs))
			if r.Peak < bound-1e-9 || e >= longest(jobs) {
				t.Errorf("peak %.4f, bound %.4f, %d minutes above, longest visit %d", r.Peak, bound, e, longest(jobs))
			}
		})
	}
}

// splitBound is the largest share of its hours that any run of weeks needs for
// the jobs that must be done within it.
func splitBound(weeks []level.Capacity, jobs []level.Job) float64 {
	worst := 0.0
	for a := range weeks {
		hours := 0
		for _, end := range weeks[a:] {
			hours += labor(end)
			if w := workWithin(jobs, weeks[a].Week, end.Week); hours > 0 {
				worst = max(worst, float64(w)/float64(hours))
			}
		}
	}
	return worst
}

func workWithin(jobs []level.Job, from, to civil.Week) int {
	sum := 0
	for _, j := range jobs {
		if from <= j.First && j.Deadline.Week() <= to {
			sum += j.Needs[level.Labor]
		}
	}
	return sum
}
