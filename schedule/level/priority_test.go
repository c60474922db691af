package level_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/level"
)

// If all visits are equally long, the jobs in time are the most important that
// can be in time together, whatever is late.
func TestNeverLateWithoutNeedIfVisitsAreEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weeks := drawShop(t, 4)
		jobs := fresh(drawJobs(t, len(weeks), 8))
		for i := range jobs {
			jobs[i].Needs[level.Labor] = 5
		}
		r := level.Fit(weeks, jobs, 0)
		if want := mostInTime(weeks, jobs); weightInTime(jobs, r) < want {
			t.Fatalf("weight in time %d, possible %d: %+v", weightInTime(jobs, r), want, r.Placements)
		}
	})
}

// weight makes one job of a priority worth more than all those below it.
func weight(j level.Job) int { return int(math.Pow(10, float64(j.Priority))) }

func weightInTime(jobs []level.Job, r level.Result) int {
	sum := 0
	for i, p := range r.Placements {
		if p.Week != 0 && !p.Late {
			sum += weight(jobs[i])
		}
	}
	return sum
}

// mostInTime tries every set of jobs and returns the weight of the best one
// that can be in time.
func mostInTime(weeks []level.Capacity, jobs []level.Job) int {
	most := 0
	for set := range 1 << len(jobs) {
		sum := 0
		var in []level.Job
		for i, j := range jobs {
			if set>>i&1 == 1 {
				in = append(in, j)
				sum += weight(j)
			}
		}
		if sum > most && !math.IsInf(best(weeks, in), 1) {
			most = sum
		}
	}
	return most
}

// Nobody is late while hours in his weeks go to less important work: those
// hours and what is free there would not be enough for him.
func TestTheMoreImportantGoFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weeks := drawShop(t, 5)
		jobs := drawJobs(t, len(weeks), 16)
		r := level.Fit(weeks, jobs, 0)
		for i, p := range r.Placements {
			if p.Week != 0 && !p.Late {
				continue
			}
			for _, w := range weeks {
				if !inTime(jobs[i], w.Week) || labor(w) == 0 {
					continue
				}
				if got := labor(w) - booked(w) - keptFor(jobs[i], jobs, r, w); got >= jobs[i].Needs[level.Labor] {
					t.Fatalf("%s is late, but %d minutes of %s go to less important work", p.ID, got, w.Week)
				}
			}
		}
	})
}

// keptFor sums the minutes of a week that go to jobs in time which are at least
// as important.
func keptFor(j level.Job, jobs []level.Job, r level.Result, w level.Capacity) int {
	sum := 0
	for i, p := range r.Placements {
		if p.Week == w.Week && !p.Late && jobs[i].Priority >= j.Priority {
			sum += jobs[i].Needs[level.Labor]
		}
	}
	return sum
}

func TestRawWaterOutdoorsBeforeHeatedStorage(t *testing.T) {
	heated := []level.Job{job("heated-1", 60, 1, 2), job("heated-2", 60, 1, 2), job("heated-3", 60, 1, 2)}
	raw := job("raw-water", 60, 1, 2)
	raw.Priority = 90
	for i := range heated {
		heated[i].Priority, heated[i].Prior, heated[i].Told = 30, base+1, i == 0
	}
	heated[2].Prior = base + 2
	r := level.Fit(shop(120, 60, 0, 60), append(heated, raw), 0)
	if p := r.Placements[3]; p.Late || p.Week == 0 {
		t.Errorf("raw-water: %+v, want it in time", p)
	}
	if p := r.Placements[0]; p.Moved {
		t.Errorf("heated-1: %+v, want it left alone, its customer was told", p)
	}
	if len(r.AtRisk) != 1 || r.AtRisk[0] == "raw-water" || r.AtRisk[0] == "heated-1" {
		t.Errorf("at risk %v, want one of those not told", r.AtRisk)
	}
	if len(r.Short) != 1 || r.Short[0].Over != minutesOf(60) {
		t.Errorf("short %+v, want 60 minutes in one week", r.Short)
	}
}

// ranked gives a job a priority.
func ranked(j level.Job, priority int) level.Job {
	j.Priority = priority
	return j
}

func TestWhoGivesWay(t *testing.T) {
	for _, c := range []struct {
		name  string
		weeks []level.Capacity
		jobs  []level.Job
		want  []int // week of each job, counted from base
	}{
		{"a week has shrunk: who was told stays", shop(60, 60), []level.Job{
			had(job("a", 40, 1, 2), 1, false), had(job("b", 40, 1, 2), 1, true)}, []int{2, 1}},
		{"a week has shrunk: who can go nowhere else stays", shop(60, 60), []level.Job{
			had(job("a", 30, 1, 2), 1, false), had(job("b", 40, 1, 1), 1, false)}, []int{2, 1}},
		{"a week has shrunk: one long visit moves, not two short ones", shop(60, 60), []level.Job{
			had(job("a", 40, 1, 2), 1, false), had(job("b", 30, 1, 2), 1, false), had(job("c", 30, 1, 2), 1, false)}, []int{2, 1, 1}},
		{"room is made by one who was not told", shop(80, 80), []level.Job{
			had(job("a", 40, 1, 2), 1, true), had(job("b", 40, 1, 2), 1, false), job("c", 40, 1, 1)}, []int{1, 2, 1}},
		{"room is made by two who were not told before one who was", shop(60, 60, 30, 60), []level.Job{
			had(job("told", 30, 2, 3), 2, true), had(job("a", 30, 1, 2), 2, false), had(job("b", 40, 1, 4), 1, false), job("c", 30, 2, 2)}, []int{2, 1, 4, 2}},
		{"odd minutes serve nobody", shop(6, 6, 8), []level.Job{
			ranked(job("a", 5, 1, 2), 1), job("b", 5, 1, 1), ranked(job("c", 5, 1, 3), 1), ranked(job("d", 5, 2, 3), 1)}, []int{1, 0, 2, 3}},
		{"no more go than must", shop(80, 0, 80), []level.Job{
			ranked(job("a", 20, 1, 1), 1), ranked(job("b", 60, 1, 1), 2), ranked(job("c", 60, 1, 1), 9)}, []int{1, 3, 1}},
		{"the less important goes late", shop(60, 60), []level.Job{
			ranked(job("a", 60, 1, 1), 1), ranked(job("b", 60, 1, 1), 2)}, []int{2, 1}},
		{"who was late before stays late", shop(60, 60, 60), []level.Job{
			had(job("a", 60, 1, 1), 3, false), had(job("b", 60, 1, 1), 1, false)}, []int{3, 1}},
		{"late before, now there is room in time", shop(60, 60, 60), []level.Job{
			had(job("a", 60, 1, 1), 3, false)}, []int{1}},
		{"late before, now a month sooner", shop(60, 60, 60, 60, 60, 60), []level.Job{
			had(job("a", 60, 1, 1), 6, false), had(job("b", 60, 1, 1), 1, false)}, []int{2, 1}},
		{"late before and told so", shop(60, 60, 60, 60, 60, 60), []level.Job{
			had(job("a", 60, 1, 1), 6, true), had(job("b", 60, 1, 1), 1, false)}, []int{6, 1}},
		{"a late one sends on a less important late one", shop(60, 60, 60), []level.Job{
			had(job("a", 60, 1, 1), 1, false), had(ranked(job("b", 60, 1, 1), -2), 2, false), ranked(job("c", 60, 1, 1), -1)}, []int{1, 3, 2}},
		{"a late one does not send on one who was told", shop(60, 60, 60), []level.Job{
			had(job("a", 60, 1, 1), 1, false), had(ranked(job("b", 60, 1, 1), -2), 2, true), ranked(job("c", 60, 1, 1), -1)}, []int{1, 2, 3}},
		{"wishes that follow one another", shop(60, 60, 60), []level.Job{
			wishing(job("a", 60, 1, 2), 2), wishing(job("b", 60, 1, 3), 3)}, []int{2, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i, p := range level.Fit(c.weeks, c.jobs, 0).Placements {
				if want := weekOf(c.want[i]); p.Week != want {
					t.Errorf("%s goes to %q (%s), want %q", p.ID, p.Week, p.Why.Reason, want)
				}
			}
		})
	}
}

// In a large shop that cannot do everything, nobody is late while a week in his time
// has hours for him.
func TestNobodyIsLateBesideAWeekWithRoom(t *testing.T) {
	for _, load := range []float64{0.5, 0.6, 0.8} {
		weeks, jobs := fleet(2500, load, 2)
		for round := range 2 {
			r := level.Fit(weeks, jobs, level.DefaultTarget)
			late := 0
			for k, p := range r.Placements {
				j := &jobs[k]
				if p.Week != 0 && !p.Late {
					continue
				}
				late++
				for _, l := range r.Load {
					if left := l.Capacity[level.Labor] - taken(l); inTime(*j, l.Week) && left >= j.Needs[level.Labor] {
						t.Errorf("load %v, round %d: %s (%d min) is late in %s while %s has %d min left", load, round, j.ID, j.Needs[level.Labor], p.Week, l.Week, left)
					}
				}
			}
			if late == 0 {
				t.Errorf("load %v, round %d: nobody is late, so nothing was asked", load, round)
			}
			jobs, weeks = again(jobs, r), changed(weeks)
		}
	}
}
