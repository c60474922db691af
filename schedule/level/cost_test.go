package level_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// offWish is what the model says that a job in a week costs: 1 for each minute
// and week before the wish, 3 after it, far more before the first week for it.
func offWish(j level.Job, w civil.Week) int {
	c := int(j.Wish - w)
	if c < 0 {
		c *= -3
	}
	if w < j.NotBefore {
		c += 1000 * int(j.NotBefore-w)
	}
	return c * max(j.Needs[level.Labor], j.Needs[level.Yard], 1)
}

// best2 tries every way to give jobs weeks, or none, within what each week may
// hold, and returns how many can be in time and what the cheapest such plan
// costs. Day by day, what is due by a day must fit into the hours until then.
func best2(weeks []level.Capacity, jobs []level.Job, most [][7]level.Amounts) (inTime, cost int) {
	inTime, cost = -1, 0
	load := make([][7]level.Amounts, len(weeks))
	var try func(k, n, c int)
	try = func(k, n, c int) {
		if n+len(jobs)-k < inTime || n+len(jobs)-k == inTime && c >= cost {
			return
		}
		if k == len(jobs) {
			inTime, cost = n, c
			return
		}
		j := jobs[k]
		for i := range weeks {
			day := min(int(j.Deadline-weeks[i].Week.Monday()), 6)
			if weeks[i].Week < j.First || day < 0 {
				continue
			}
			before, ok := load[i], true
			for d := day; d < 7; d++ {
				for r := range j.Needs {
					load[i][d][r] += j.Needs[r]
					ok = ok && (j.Needs[r] == 0 || load[i][d][r] <= most[i][d][r])
				}
			}
			if ok {
				try(k+1, n+1, c+offWish(j, weeks[i].Week))
			}
			load[i] = before
		}
		try(k+1, n, c)
	}
	try(0, 0, 0)
	return inTime, cost
}

// through adds the days up, at a share of the capacity.
func through(weeks []level.Capacity, share func(i int) [level.Resources]float64) [][7]level.Amounts {
	out := make([][7]level.Amounts, len(weeks))
	for i := range weeks {
		var sum level.Amounts
		at := share(i)
		for d := range 7 {
			for r := range sum {
				sum[r] += weeks[i].Days[d][r]
				out[i][d][r] = int(math.Floor(float64(sum[r])*at[r] + 1e-9))
			}
		}
	}
	return out
}

// yardPuzzle invents a small shop of two to four weeks with hours on five days,
// and a yard where yard is set. fill is the share of the labor that the jobs
// need; each is equally long if equal is set.
func yardPuzzle(r *rand.Rand, fill float64, yard, equal bool) ([]level.Capacity, []level.Job) {
	weeks := make([]level.Capacity, 2+r.IntN(3))
	total, used := 0, 0
	for i := range weeks {
		weeks[i].Week = base + civil.Week(i+1)
		for d := range 5 {
			weeks[i].Days[d][level.Labor] = 2 + r.IntN(2)
			total += weeks[i].Days[d][level.Labor]
			if yard {
				weeks[i].Days[d][level.Yard] = 2
			}
		}
	}
	var jobs []level.Job
	for len(jobs) < 9 {
		first := 1 + r.IntN(len(weeks))
		j := job(fmt.Sprint("job-", len(jobs)), 2+r.IntN(5), first, min(len(weeks), first+r.IntN(len(weeks))))
		if equal {
			j.Needs[level.Labor] = 3
		}
		if yard && r.IntN(3) > 0 {
			j.Needs[level.Yard] = 1 + r.IntN(4)
		}
		if !equal && r.IntN(3) == 0 {
			j.Deadline -= civil.Day(1 + r.IntN(5)) // Tuesday to Saturday
		}
		if used += j.Needs[level.Labor]; used > int(fill*float64(total)) {
			break
		}
		last := max(j.First, j.Deadline.Week())
		j.Wish = j.First + civil.Week(r.IntN(int(last-j.First)+1))
		if r.IntN(3) == 0 {
			j.NotBefore = j.Wish
		}
		jobs = append(jobs, j)
	}
	return weeks, jobs
}

// timely returns the jobs in time, and what their weeks cost.
func timely(jobs []level.Job, r level.Result) (in []level.Job, cost int) {
	for i, p := range r.Placements {
		if p.Week != 0 && !p.Late {
			in = append(in, jobs[i])
			cost += offWish(jobs[i], p.Week)
		}
	}
	return in, cost
}

// Levelling against trying everything, with one resource and with two. Fewer
// visits in time than can be: in at most 1 of 200 shops at 85 % load and 1 of 50
// at 100 %. With as many in time, and within the same ceilings, the weeks off the
// wish cost at most 5 % more in 95 of 100.
func TestAgainstTryingEverything(t *testing.T) {
	for _, c := range []struct {
		fill  float64
		yard  bool
		fewer float64
	}{{0.5, false, 0.005}, {0.5, true, 0.005}, {0.85, false, 0.005}, {0.85, true, 0.005}, {1, false, 0.02}, {1, true, 0.02}} {
		t.Run(fmt.Sprintf("%.0f percent, yard %v", 100*c.fill, c.yard), func(t *testing.T) {
			r := rand.New(rand.NewPCG(11, 12))
			shops, fewer, compared, dearer, exact := 0, 0, 0, 0, 0
			for range 600 {
				weeks, jobs := yardPuzzle(r, c.fill, c.yard, false)
				shops++
				got := level.Fit(weeks, jobs, level.DefaultTarget)
				in, cost := timely(jobs, got)
				n := len(in)
				all, _ := best2(weeks, jobs, through(weeks, func(int) (s [level.Resources]float64) { return [level.Resources]float64{1, 1, 1} }))
				if n < all {
					fewer++
					continue
				}
				// Within the target if that holds them all, else within the ceilings.
				most := through(weeks, func(int) [level.Resources]float64 { return [level.Resources]float64{.85, .85, .85} })
				calm, want := best2(weeks, in, most)
				if calm < n {
					most = through(weeks, func(i int) (s [level.Resources]float64) {
						for k := range s {
							if whole := got.Load[i].Capacity[k]; whole > 0 {
								s[k] = math.Max(float64(got.Load[i].Ceiling[k]), float64(got.Load[i].Pencilled[k])) / float64(whole)
							}
						}
						return s
					})
					if calm, want = best2(weeks, in, most); calm < n {
						continue // a whole visit lies above the ceiling
					}
				}
				compared++
				if float64(cost) > 1.05*float64(want) {
					dearer++
				}
				if cost <= want {
					exact++
				}
			}
			t.Logf("%d shops, %d with fewer in time than could be; of %d compared %d more than 5 %% dearer, %d cheapest", shops, fewer, compared, dearer, exact)
			if float64(fewer) > c.fewer*float64(shops) || compared < shops/2 || float64(dearer) > 0.05*float64(compared) {
				t.Errorf("%d of %d shops with fewer visits in time, %d of %d too dear", fewer, shops, dearer, compared)
			}
		})
	}
}

// With visits of one length and one resource the plan is the cheapest there is.
func TestCheapestIfVisitsAreEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		weeks, jobs := yardPuzzle(rand.New(rand.NewPCG(seed, 5)), rapid.Float64Range(0.3, 0.85).Draw(t, "fill"), false, true)
		got := level.Fit(weeks, jobs, level.DefaultTarget)
		all, _ := best2(weeks, jobs, through(weeks, func(int) [level.Resources]float64 { return [level.Resources]float64{1, 1, 1} }))
		in, cost := timely(jobs, got)
		calm, want := best2(weeks, in, through(weeks, func(i int) (s [level.Resources]float64) {
			s[0] = math.Max(.85, float64(got.Load[i].Ceiling[0])/float64(got.Load[i].Capacity[0]))
			return s
		}))
		if len(in) < all || len(in) == calm && cost > want {
			t.Fatalf("%d in time at %d, possible %d, and %d at %d: %+v", len(in), cost, all, calm, want, got.Placements)
		}
	})
}

// autumn invents a shop's lay-ups: a hundred or so of one to ten hours, most of
// them due in the same three weeks, and hours for all of them under the target
// only if those that are due last leave the weeks before to the others.
func autumn(seed uint64) ([]level.Capacity, []level.Job) {
	r := rand.New(rand.NewPCG(seed, 8))
	var jobs []level.Job
	for work := 0; work < 7*5100; {
		minutes := 60 + 30*min(r.IntN(19), r.IntN(19))
		due := []int{8, 9, 9, 10, 10, 11}[r.IntN(6)]
		j := wishing(job(fmt.Sprintf("boat-%03d", len(jobs)), minutes, 1, due), due-1)
		j.NotBefore = base + civil.Week(due-6)
		jobs, work = append(jobs, j), work+minutes
	}
	return weeksOf(14, 1200), jobs
}

// No plan costs less than one that may split visits into half hours, and if
// all are equally long the plan is the cheapest there is. Whole visits may cost a
// little more.
func TestAnAutumnOfLongAndShortVisits(t *testing.T) {
	for seed := range uint64(4) {
		weeks, jobs := autumn(seed)
		var halves []level.Job
		for _, j := range jobs {
			for n := range j.Needs[level.Labor] / 30 {
				h := j
				h.ID, h.Needs = fmt.Sprint(j.ID, "-", n), minutesOf(30)
				halves = append(halves, h)
			}
		}
		in, got := timely(jobs, level.Fit(weeks, jobs, level.DefaultTarget))
		all, least := timely(halves, level.Fit(weeks, halves, level.DefaultTarget))
		t.Logf("%d visits, %d half hours: the plan costs %d, split visits %d, %.1f %% more", len(jobs), len(halves), got, least, 100*float64(got-least)/float64(least))
		if len(in) < len(jobs) || len(all) < len(halves) || len(halves) > 2000 {
			t.Fatalf("%d of %d visits and %d of %d half hours in time: this shop was meant to be roomy", len(in), len(jobs), len(all), len(halves))
		}
		if float64(got) > 1.06*float64(least) {
			t.Errorf("the plan costs %d, with split visits it would cost %d", got, least)
		}
	}
}
