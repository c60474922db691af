package level_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
)

// base is the week before the first one of the small shops in these tests.
var base = civil.Of(2027, 4, 26).Week()

// shop makes open weeks of the given capacities from base+1 on.
func shop(capacity ...int) []level.Capacity {
	weeks := make([]level.Capacity, len(capacity))
	for i, c := range capacity {
		weeks[i] = open(base+civil.Week(i+1), c, 0)
	}
	return weeks
}

// job makes a job that may go to weeks first..deadline, counted from base.
func job(id string, minutes, first, deadline int) level.Job {
	return level.Job{ID: id, Needs: minutesOf(minutes), First: base + civil.Week(first), Deadline: (base + civil.Week(deadline)).Sunday()}
}

func minutesOf(labor int) level.Amounts { return level.Amounts{level.Labor: labor} }

// open is a week whose hours are all on its Monday, so that any day of it serves
// as a deadline.
func open(w civil.Week, labor, booked int) level.Capacity {
	c := level.Capacity{Week: w}
	c.Days[0], c.Booked[0] = minutesOf(labor), minutesOf(booked)
	return c
}

// labor is what a week has.
func labor(c level.Capacity) int { return c.Total()[level.Labor] }

// booked is what of it is booked.
func booked(c level.Capacity) int { return c.TotalBooked()[level.Labor] }

// inTime reports whether a week lies in the job's window.
func inTime(j level.Job, w civil.Week) bool { return j.First <= w && w <= j.Deadline.Week() }

// drawShop draws a few weeks, some of them closed or partly booked.
func drawShop(t *rapid.T, most int) []level.Capacity {
	weeks := make([]level.Capacity, upTo(1, most).Draw(t, "weeks"))
	for i := range weeks {
		c := rapid.SampledFrom([]int{0, 6, 8, 10, 12}).Draw(t, "capacity")
		weeks[i] = open(base+civil.Week(i+1), c, rapid.SampledFrom([]int{0, 0, 1, 2}).Draw(t, "thirds booked")*c/3)
		if rapid.Bool().Draw(t, "hours on two days") {
			late := upTo(1, 6).Draw(t, "later day")
			weeks[i].Days[0][level.Labor], weeks[i].Days[late][level.Labor] = c/2, c-c/2
		}
	}
	return weeks
}

// upTo draws evenly; rapid's own ranges prefer small numbers, and small shops
// with few jobs are never short of hours.
func upTo(from, to int) *rapid.Generator[int] {
	var all []int
	for i := from; i <= to; i++ {
		all = append(all, i)
	}
	return rapid.SampledFrom(all)
}

// drawTarget draws how full weeks should be; 0 levels everything.
func drawTarget(t *rapid.T) float64 {
	return rapid.SampledFrom([]float64{0, 0.5, level.DefaultTarget, 1}).Draw(t, "target")
}

// drawJobs draws jobs with windows in and around the shop's weeks.
func drawJobs(t *rapid.T, weeks, most int) []level.Job {
	jobs := make([]level.Job, upTo(0, most).Draw(t, "jobs"))
	for i := range jobs {
		j := job(fmt.Sprintf("job-%02d", i), upTo(0, 7).Draw(t, "minutes"),
			upTo(0, weeks).Draw(t, "first"), 0)
		j.Deadline = (j.First + civil.Week(upTo(-1, 4).Draw(t, "span"))).Sunday()
		if rapid.Bool().Draw(t, "wishes") {
			j.Wish = j.First + civil.Week(upTo(0, 4).Draw(t, "wish"))
		}
		if rapid.Bool().Draw(t, "had a week") {
			j.Prior = base + civil.Week(upTo(1, weeks).Draw(t, "prior"))
			j.Told = rapid.Bool().Draw(t, "told")
		}
		j.Priority = upTo(0, 3).Draw(t, "priority")
		j.Overdue = upTo(0, 4).Draw(t, "overdue") == 0
		if upTo(0, 3).Draw(t, "not before") == 0 {
			j.NotBefore = j.First + civil.Week(upTo(0, 2).Draw(t, "weeks"))
		}
		jobs[i] = j
	}
	return jobs
}

// fresh forgets where the jobs were.
func fresh(jobs []level.Job) []level.Job {
	out := slices.Clone(jobs)
	for i := range out {
		out[i].Prior, out[i].Told = 0, false
	}
	return out
}

// again gives the jobs the weeks of a plan.
func again(jobs []level.Job, r level.Result) []level.Job {
	out := slices.Clone(jobs)
	for i := range out {
		out[i].Prior = r.Placements[i].Week
	}
	return out
}

func TestFitKeepsItsPromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weeks := drawShop(t, 6)
		jobs := drawJobs(t, len(weeks), 14)
		r := level.Fit(weeks, jobs, drawTarget(t))
		checkConservation(t, weeks, jobs, r)
		checkLateAndRisk(t, jobs, r)
	})
}

// checkConservation asks that every job is answered for once, that the loads
// are the sums of the jobs, and that no week holds more than it can.
func checkConservation(t *rapid.T, weeks []level.Capacity, jobs []level.Job, r level.Result) {
	if len(r.Placements) != len(jobs) || len(r.Load) != len(weeks) {
		t.Fatalf("%d placements for %d jobs, %d loads for %d weeks", len(r.Placements), len(jobs), len(r.Load), len(weeks))
	}
	sum := make(map[civil.Week]int)
	moved, told := 0, 0
	for i, p := range r.Placements {
		if p.ID != jobs[i].ID {
			t.Fatalf("placement %d is of %s, want %s", i, p.ID, jobs[i].ID)
		}
		if p.Week != 0 && p.Week < jobs[i].First {
			t.Fatalf("%s goes to %s, before its first week %s", p.ID, p.Week, jobs[i].First)
		}
		if p.Why.Words(words.Format{}) == "" {
			t.Fatalf("%s has no reason (%q)", p.ID, p.Why.Reason)
		}
		if p.Moved != (jobs[i].Prior != 0 && jobs[i].Prior != p.Week) {
			t.Fatalf("%s: moved is %v from %s to %s", p.ID, p.Moved, jobs[i].Prior, p.Week)
		}
		if p.Moved {
			moved++
			if jobs[i].Told {
				told++
			}
		}
		sum[p.Week] += jobs[i].Needs[level.Labor]
	}
	if moved != r.Moved || told != r.ToldMoved {
		t.Fatalf("moved %d, told %d; reported %d and %d", moved, told, r.Moved, r.ToldMoved)
	}
	for i, l := range r.Load {
		if l.Week != weeks[i].Week || l.Booked != weeks[i].TotalBooked() || l.Pencilled[level.Labor] != sum[l.Week] {
			t.Fatalf("load %+v, want %d pencilled in %+v", l, sum[l.Week], weeks[i])
		}
		if l.Pencilled[level.Labor] > 0 && taken(l) > l.Capacity[level.Labor] {
			t.Fatalf("week over its capacity: %+v", l)
		}
	}
}

// checkLateAndRisk asks that whoever is late or out is either overdue, beyond
// the weeks given, or reported at risk and counted in a shortfall.
func checkLateAndRisk(t *rapid.T, jobs []level.Job, r level.Result) {
	counted := make(map[string]int)
	for _, s := range r.Short {
		for _, id := range s.Jobs {
			counted[id]++
		}
	}
	for i, p := range r.Placements {
		j := jobs[i]
		risk := slices.Contains(r.AtRisk, p.ID)
		if p.Late != (p.Week != 0 && p.Week > j.Deadline.Week()) {
			t.Fatalf("%s in %s by %s: late is %v", p.ID, p.Week, j.Deadline, p.Late)
		}
		excused := p.Why.Reason == level.Overdue || p.Why.Reason == level.OutOfSpan
		if missed := p.Week == 0 || p.Late; risk != (missed && !excused) {
			t.Fatalf("%s: missed %v, excused %v (%s), at risk %v", p.ID, missed, excused, p.Why.Reason, risk)
		}
		if want := map[bool]int{true: 1}[risk]; counted[p.ID] != want {
			t.Fatalf("%s is counted %d times in shortfalls, want %d", p.ID, counted[p.ID], want)
		}
	}
}

func TestFitAgainMovesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weeks := drawShop(t, 6)
		jobs := drawJobs(t, len(weeks), 14)
		target := drawTarget(t)
		first := level.Fit(weeks, jobs, target)
		second := level.Fit(weeks, again(jobs, first), target)
		if second.Moved != 0 {
			t.Fatalf("%d moved:\n%+v\n%+v", second.Moved, first.Placements, second.Placements)
		}
	})
}

func TestFitDoesNotDependOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weeks := drawShop(t, 6)
		jobs := drawJobs(t, len(weeks), 14)
		want, target := make(map[string]level.Placement), drawTarget(t)
		for _, p := range level.Fit(weeks, jobs, target).Placements {
			want[p.ID] = p
		}
		jobs = rapid.Permutation(jobs).Draw(t, "jobs in another order")
		weeks = rapid.Permutation(weeks).Draw(t, "weeks in another order")
		for _, p := range level.Fit(weeks, jobs, target).Placements {
			if p != want[p.ID] {
				t.Fatalf("%+v, in another order %+v", want[p.ID], p)
			}
		}
	})
}
