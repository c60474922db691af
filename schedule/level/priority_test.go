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
			jobs[i].Minutes = 5
		}
		r := level.Fit(weeks, jobs)
		if want := mostInTime(weeks, jobs); inTime(jobs, r) < want {
			t.Fatalf("weight in time %d, possible %d: %+v", inTime(jobs, r), want, r.Placements)
		}
	})
}

// weight makes one job of a priority worth more than all those below it.
func weight(j level.Job) int { return int(math.Pow(10, float64(j.Priority))) }

func inTime(jobs []level.Job, r level.Result) int {
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
func mostInTime(weeks []level.Week, jobs []level.Job) int {
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
		r := level.Fit(weeks, jobs)
		for i, p := range r.Placements {
			if p.Week != 0 && !p.Late {
				continue
			}
			for _, w := range weeks {
				if w.Week < jobs[i].First || w.Week > jobs[i].Deadline || w.Capacity == 0 {
					continue
				}
				if got := w.Capacity - w.Booked - keptFor(jobs[i], jobs, r, w); got >= jobs[i].Minutes {
					t.Fatalf("%s is late, but %d minutes of %s go to less important work", p.ID, got, w.Week)
				}
			}
		}
	})
}

// keptFor sums the minutes of a week that go to jobs in time which are at least
// as important.
func keptFor(j level.Job, jobs []level.Job, r level.Result, w level.Week) int {
	sum := 0
	for i, p := range r.Placements {
		if p.Week == w.Week && !p.Late && jobs[i].Priority >= j.Priority {
			sum += jobs[i].Minutes
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
	r := level.Fit(shop(120, 60, 0, 60), append(heated, raw))
	if p := r.Placements[3]; p.Late || p.Week == 0 {
		t.Errorf("raw-water: %+v, want it in time", p)
	}
	if p := r.Placements[0]; p.Moved {
		t.Errorf("heated-1: %+v, want it left alone, its customer was told", p)
	}
	if len(r.AtRisk) != 1 || r.AtRisk[0] == "raw-water" || r.AtRisk[0] == "heated-1" {
		t.Errorf("at risk %v, want one of those not told", r.AtRisk)
	}
	if len(r.Short) != 1 || r.Short[0].Over != 60 {
		t.Errorf("short %+v, want 60 minutes in one week", r.Short)
	}
}
