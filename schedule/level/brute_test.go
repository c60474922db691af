package level_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/level"
)

// best tries every way to put the jobs into weeks of their windows and returns
// the smallest possible largest utilisation; +Inf if they cannot all be in time.
func best(weeks []level.Week, jobs []level.Job) float64 {
	load := make([]int, len(weeks))
	peak := 0.0
	for i, w := range weeks {
		load[i] = w.Booked
		if w.Capacity > 0 {
			peak = max(peak, float64(w.Booked)/float64(w.Capacity))
		}
	}
	found := math.Inf(1)
	var try func(k int, peak float64)
	try = func(k int, peak float64) {
		if peak >= found {
			return
		}
		if k == len(jobs) {
			found = peak
			return
		}
		for i, w := range weeks {
			if w.Week < jobs[k].First || w.Week > jobs[k].Deadline || w.Capacity == 0 || load[i]+jobs[k].Minutes > w.Capacity {
				continue
			}
			load[i] += jobs[k].Minutes
			try(k+1, max(peak, float64(load[i])/float64(w.Capacity)))
			load[i] -= jobs[k].Minutes
		}
	}
	try(0, peak)
	return found
}

func TestMeasure(t *testing.T) {
	feas, miss, n := 0, 0, 0
	over := map[int]int{}
	rapid.Check(t, func(t *rapid.T) {
		weeks := drawShop(t, 4)
		jobs := fresh(drawJobs(t, len(weeks), 8))
		n++
		opt := best(weeks, jobs)
		r := level.Fit(weeks, jobs)
		if math.IsInf(opt, 1) {
			return
		}
		feas++
		if len(r.AtRisk) > 0 {
			miss++
			return
		}
		worst := 0
		for _, l := range r.Load {
			worst = max(worst, l.Booked+l.Pencilled-int(math.Floor(opt*float64(l.Capacity)+1e-9)))
		}
		over[worst]++
	})
	t.Log(n, feas, miss, over)
}
