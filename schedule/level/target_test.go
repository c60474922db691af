package level_test

import (
	"fmt"
	"slices"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// week is a week with so many minutes on each day from Monday to Friday.
func week(n, eachDay int) level.Capacity {
	c := level.Capacity{Week: base + civil.Week(n)}
	for d := range 5 {
		c.Days[d][level.Labor] = eachDay
	}
	return c
}

func weeksOf(n, eachDay int) []level.Capacity {
	var out []level.Capacity
	for i := range n {
		out = append(out, week(i+1, eachDay))
	}
	return out
}

// layUp is a visit of two hours that wishes for one week and is due in the next.
func layUp(id string, wish int) level.Job {
	j := wishing(job(id, 120, 1, wish+1), wish)
	j.NotBefore = base + civil.Week(max(1, wish-4))
	return j
}

// layUps are so many of them.
func layUps(n, wish int) (jobs []level.Job) {
	for i := range n {
		jobs = append(jobs, layUp(fmt.Sprintf("boat-%02d", i), wish))
	}
	return jobs
}

// labors lists the minutes pencilled in each week.
func labors(r level.Result) (out []int) {
	for _, l := range r.Load {
		out = append(out, l.Pencilled[level.Labor])
	}
	return out
}

// How weeks fill, worked by hand. A week has 5 days of 120 minutes, 600 in all;
// the target of 85 % is 510, so four visits of 120 minutes fit under it (480) and
// a fifth (600) does not.
func TestWeeksFillToTheTarget(t *testing.T) {
	for _, c := range []struct {
		name  string
		weeks []level.Capacity
		jobs  []level.Job
		want  []int // minutes by week
	}{
		// An idle shop moves nobody: all four lie in the week they wish for, though
		// seven empty weeks would be "more even".
		{"idle shop: all at their wish", weeksOf(8, 120), layUps(4, 7), []int{0, 0, 0, 0, 0, 0, 480, 0}},
		// The fifth visit does not fit under the target in week 7. A week before
		// costs 120 x 1, a week after it 120 x 3: it goes to week 6.
		{"one more than the target: a week early is cheaper than a week late", weeksOf(8, 120), layUps(5, 7), []int{0, 0, 0, 0, 0, 120, 480, 0}},
		// 17 visits: week 7 four, week 6 four (cost 1), week 5 four (2), then week 4
		// and week 8 cost 3 each; of equals the earlier first, so four in week 4 and
		// one in week 8.
		{"three weeks early costs as much as one week late", weeksOf(8, 120), layUps(17, 7), []int{0, 0, 0, 480, 480, 480, 480, 120}},
		// 24 visits: weeks 3 to 8 hold four each under the target; week 3 is the
		// first that a lay-up may have, and week 2 stays empty.
		{"not before the first week for it", weeksOf(8, 120), layUps(24, 7), []int{0, 0, 480, 480, 480, 480, 480, 480}},
		// 25: the target cannot hold otherwise, so one comes before that week, in the
		// one nearest to it, and no week is above the target.
		{"before the first week only if the target cannot hold otherwise", weeksOf(8, 120), layUps(25, 7), []int{0, 120, 480, 480, 480, 480, 480, 480}},
		// 33 visits of which eight weeks hold 32 under the target: now the weeks are
		// levelled, to the least share with which all fit: five in one week, 600.
		{"what does not fit under the target is levelled", weeksOf(8, 120), layUps(33, 7), []int{480, 480, 480, 480, 480, 480, 480, 600}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := level.Fit(c.weeks, c.jobs, level.DefaultTarget)
			got := labors(r)
			if c.name == "what does not fit under the target is levelled" {
				// Which of the equal weeks takes the fifth is all one.
				slices.Sort(got)
			}
			if !slices.Equal(got, c.want) || len(r.AtRisk) > 0 {
				t.Errorf("weeks hold %v, want %v; at risk %v", got, c.want, r.AtRisk)
			}
		})
	}
}

// Days, worked by hand: 120 minutes a day from Monday to Friday, one week with
// hours and the next. Full up to the capacity where the target cannot hold it.
func TestADeadlineCountsTheDaysUntilThen(t *testing.T) {
	first := (base + 1).Monday()
	due := func(id string, minutes, day int) level.Job {
		j := job(id, minutes, 1, 1)
		j.Deadline = first + civil.Day(day)
		return j
	}
	saturdayOff := weeksOf(2, 120)
	monday := weeksOf(2, 120)
	monday[1].Days[0] = level.Amounts{} // a holiday
	booked := weeksOf(2, 120)
	booked[0].Booked[4][level.Labor] = 120
	early := weeksOf(2, 120)
	early[0].Booked[0][level.Labor] = 300
	running := weeksOf(2, 120)
	for d := range 3 {
		running[0].Days[d] = level.Amounts{} // it is Thursday
	}
	for _, c := range []struct {
		name  string
		weeks []level.Capacity
		jobs  []level.Job
		late  int
	}{
		// Three days until Wednesday are 360 minutes: six hours of visits are in
		// time and a seventh hour is not, though the week has 600 minutes.
		{"Wednesday: three days' hours", weeksOf(2, 120), []level.Job{due("a", 180, 2), due("b", 180, 2)}, 0},
		{"Wednesday: no more than that", weeksOf(2, 120), []level.Job{due("a", 180, 2), due("b", 180, 2), due("c", 60, 2)}, 1},
		// What may wait until Friday leaves the days before Wednesday to others.
		{"what may wait until Friday does", weeksOf(2, 120), []level.Job{due("a", 240, 4), due("b", 360, 2)}, 0},
		// The shop works until Friday, so a Friday or Saturday deadline has the whole
		// week and a Sunday one no more.
		{"Friday: the week counts", saturdayOff, []level.Job{due("a", 600, 4)}, 0},
		{"Saturday: the week counts", saturdayOff, []level.Job{due("a", 600, 5)}, 0},
		// A deadline on a Monday holiday has the week before.
		{"a Monday that is a holiday: the week before", monday, []level.Job{due("a", 600, 7)}, 0},
		{"and no more than that", monday, []level.Job{due("a", 600, 7), due("b", 60, 7)}, 1},
		{"a Monday that is none: its own hours too", weeksOf(2, 120), []level.Job{due("a", 600, 7), due("b", 120, 7)}, 0},
		// Work that is booked on Friday takes none of the hours until Wednesday;
		// work booked on Monday that is longer than Monday takes Tuesday's too.
		{"booked on Friday", booked, []level.Job{due("a", 360, 2)}, 0},
		{"booked over two days", early, []level.Job{due("a", 60, 2), due("b", 60, 2)}, 1},
		// On Thursday two days are left.
		{"the running week has the days that are left", running, []level.Job{due("a", 240, 4), due("b", 60, 4)}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := level.Fit(c.weeks, c.jobs, level.DefaultTarget)
			if len(r.AtRisk) != c.late {
				t.Errorf("at risk %v, want %d: %+v", r.AtRisk, c.late, r.Placements)
			}
		})
	}
}

// What is overdue takes the earliest week with room, the most endangered first.
// Weeks hold four visits under the target, so of six overdue boats the two with
// the least to fear wait a week; the boat that is not overdue and wishes for the
// first week goes with them.
func TestOverdueComesFirst(t *testing.T) {
	jobs := []level.Job{wishing(ranked(job("not overdue", 120, 1, 8), 99), 1)}
	for i := range 6 {
		j := ranked(wishing(job(fmt.Sprint("overdue-", i), 120, 1, 5), 5), 10*i)
		j.Overdue = true
		jobs = append(jobs, j)
	}
	// The last had week 3, and nobody was told: the empty weeks before are nearer.
	jobs[6].Prior = base + 3
	want := []int{2, 2, 2, 1, 1, 1, 1}
	for i, p := range level.Fit(weeksOf(8, 120), jobs, level.DefaultTarget).Placements {
		if p.Week != base+civil.Week(want[i]) || p.Late {
			t.Errorf("%s goes to %s, want %s", p.ID, p.Week, base+civil.Week(want[i]))
		}
		if overdue := p.Why.Reason == level.Overdue; overdue != (i > 0) {
			t.Errorf("%s: %s", p.ID, p.Why)
		}
	}
	jobs[6].Told = true
	if p := level.Fit(weeksOf(8, 120), jobs, level.DefaultTarget).Placements[6]; p.Moved {
		t.Errorf("%s was told week 3 and goes to %s", p.ID, p.Week)
	}
}

// A shop with a lift for two boats a day, 10 a week, of which the target is 8
// (85 % of 10, rounded down). Twelve boats are hauled; labor is plenty. Eight come
// in the week they wish for, four the week before.
func TestLiftsLimitAWeekToo(t *testing.T) {
	weeks := weeksOf(3, 2000)
	for i := range weeks {
		for d := range 5 {
			weeks[i].Days[d][level.Lifts] = 2
		}
	}
	var jobs []level.Job
	for i := range 12 {
		j := wishing(job(fmt.Sprintf("boat-%02d", i), 120, 1, 3), 3)
		j.Needs[level.Lifts] = 1
		jobs = append(jobs, j)
	}
	r := level.Fit(weeks, jobs, level.DefaultTarget)
	for i, want := range []int{0, 4, 8} {
		if got := r.Load[i].Pencilled[level.Lifts]; got != want {
			t.Errorf("week %d hauls %d boats, want %d", i+1, got, want)
		}
	}
	if r.Peak != 0.8 {
		t.Errorf("peak %.2f, want 0.80: the lifts are what is scarce", r.Peak)
	}
	// Without a yard in the settings the weeks have no lifts, and no visit needs any.
	for i := range jobs {
		jobs[i].Needs[level.Lifts] = 0
	}
	if got := labors(level.Fit(weeksOf(3, 2000), jobs, level.DefaultTarget)); !slices.Equal(got, []int{0, 0, 1440}) {
		t.Errorf("weeks hold %v, want all at their wish", got)
	}
}

// Six weeks of 600 minutes; three boats want week 1. A was told it and fills it.
// B, as important, is late; so is M, which matters little and has been in week 3
// before. Week 2 is full of C. Week 3 holds M (60), L (240), and K (300), which is
// due on Thursday of it, in time. B matters more than K, but K is in time and is
// not sent on for a boat that is late either way: B takes week 4.
func TestLateLeavesWhatIsInTimeInItsDeadlinesWeek(t *testing.T) {
	a, c := ranked(job("a", 600, 1, 1), 90), ranked(job("c", 600, 2, 2), 10)
	a.Prior, a.Told = base+1, true
	k := ranked(job("k", 300, 3, 3), 30)
	k.Deadline -= 3
	m := ranked(job("m", 60, 1, 1), 20)
	m.Prior = base + 3
	r := level.Fit(weeksOf(6, 120), []level.Job{a, ranked(job("b", 300, 1, 1), 90), c, k, ranked(job("l", 240, 3, 3), 10), m}, 1)
	for i, want := range []civil.Week{1, 4, 2, 3, 3, 3} {
		p := r.Placements[i]
		if late := p.ID == "b" || p.ID == "m"; p.Week != base+want || p.Late != late {
			t.Errorf("%s goes to %s, late %v; want %s", p.ID, p.Week, p.Late, base+want)
		}
	}
}
