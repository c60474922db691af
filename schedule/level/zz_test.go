package level_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

func TestHard(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, fill := range []float64{0.5, 0.7, 0.85, 0.95, 1} {
		feas, miss, risk := 0, 0, 0
		over := map[int]int{}
		frac := map[int]int{}
		for range 20000 {
			n := 2 + r.IntN(3)
			caps := make([]int, n)
			tot := 0
			for i := range caps {
				caps[i] = 8 + r.IntN(8)
				tot += caps[i]
			}
			weeks := shop(caps...)
			var jobs []level.Job
			sum := 0
			for len(jobs) < 11 {
				a := 1 + r.IntN(n)
				j := job(fmt.Sprint(len(jobs)), 1+r.IntN(8), a, min(n, a+r.IntN(n)))
				j.Wish = j.First + civil.Week(r.IntN(3))
				if sum+j.Minutes > int(fill*float64(tot)) {
					break
				}
				sum += j.Minutes
				jobs = append(jobs, j)
			}
			opt := best(weeks, jobs)
			if math.IsInf(opt, 1) {
				continue
			}
			feas++
			res := level.Fit(weeks, jobs)
			if len(res.AtRisk) > 0 {
				miss++
				risk += len(res.AtRisk)
				continue
			}
			worst := 0
			for _, l := range res.Load {
				worst = max(worst, l.Pencilled-int(math.Floor(opt*float64(l.Capacity)+1e-9)))
			}
			over[worst]++
		}
		t.Log(fill, feas, miss, risk, over, frac)
	}
}
