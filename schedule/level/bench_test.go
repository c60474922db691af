package level_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// fleet invents a northern shop's jobs over 80 weeks from May on: two lay-ups
// and a fit-out for each boat in crowded windows, extra visits in between.
// load is the share of the capacity that they need over all.
func fleet(n int, load float64, seed uint64) ([]level.Capacity, []level.Job) {
	r := rand.New(rand.NewPCG(seed, 1))
	jobs := make([]level.Job, n)
	total := 0
	for i := range jobs {
		first, span := r.IntN(70), 4+r.IntN(10)
		switch r.IntN(4) {
		case 0:
			first, span = 20+r.IntN(4), 4+r.IntN(5) // lay-up
		case 1:
			first, span = 46+r.IntN(4), 3+r.IntN(5) // fit-out
		}
		j := job(fmt.Sprintf("b%06d", i), 30*(1+r.IntN(12)), first+1, min(first+span, 79)+1)
		j.Wish = j.First + civil.Week(r.IntN(int(j.Deadline.Week()-j.First)+1))
		j.Priority = []int{20, 40, 50, 70, 90}[r.IntN(5)]
		total += j.Needs[level.Labor]
		jobs[i] = j
	}
	capacity := make([]int, 80)
	for i := range capacity {
		capacity[i] = int(float64(total) / load / 80)
	}
	return shop(capacity...), jobs
}

func BenchmarkFit(b *testing.B) {
	for _, c := range []struct {
		name string
		jobs int
		load float64
	}{
		{"400 jobs", 400, 0.3},
		{"100000 jobs, roomy", 100_000, 0.3},
		{"100000 jobs, tight", 100_000, 0.46},
		{"100000 jobs, overloaded", 100_000, 0.8},
	} {
		weeks, jobs := fleet(c.jobs, c.load, 1)
		b.Run(c.name+", new", func(b *testing.B) {
			for b.Loop() {
				report(b, level.Fit(weeks, jobs, level.DefaultTarget))
			}
		})
		jobs = again(jobs, level.Fit(weeks, jobs, level.DefaultTarget))
		b.Run(c.name+", again", func(b *testing.B) {
			for b.Loop() {
				report(b, level.Fit(weeks, jobs, level.DefaultTarget))
			}
		})
		weeks = changed(weeks)
		b.Run(c.name+", a technician away", func(b *testing.B) {
			for b.Loop() {
				report(b, level.Fit(weeks, jobs, level.DefaultTarget))
			}
		})
	}
}

// changed takes a third of the hours out of one crowded week.
func changed(weeks []level.Capacity) []level.Capacity {
	out := append([]level.Capacity(nil), weeks...)
	out[24] = open(out[24].Week, labor(out[24])*2/3, 0)
	return out
}

func report(b *testing.B, r level.Result) {
	b.ReportMetric(float64(len(r.AtRisk)), "at-risk")
	b.ReportMetric(float64(r.Moved), "moved")
	b.ReportMetric(r.Peak, "peak")
}

func BenchmarkPlace(b *testing.B) {
	weeks, jobs := fleet(100_000, 0.4, 1)
	r := level.Fit(weeks, jobs, level.DefaultTarget)
	load := make(map[civil.Week]level.Amounts)
	for _, l := range r.Load {
		load[l.Week] = minutesOf(taken(l))
	}
	for i := 0; b.Loop(); i++ {
		level.Place(weeks, load, jobs[i%len(jobs)], level.DefaultTarget)
	}
}
