package level_test

import (
	"fmt"
	"slices"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
)

// weekOf counts a week from base; 0 is none.
func weekOf(n int) civil.Week {
	if n == 0 {
		return 0
	}
	return base + civil.Week(n)
}

// had gives a job the week it had before, and perhaps a customer who knows.
func had(j level.Job, week int, told bool) level.Job {
	j.Prior, j.Told = base+civil.Week(week), told
	return j
}

// wishing gives a job a week that wastes least.
func wishing(j level.Job, week int) level.Job {
	j.Wish = base + civil.Week(week)
	return j
}

func TestReasons(t *testing.T) {
	for _, c := range []struct {
		name  string
		weeks []level.Capacity
		jobs  []level.Job // the first one is asked about
		week  int         // counted from base, 0 for none
		why   level.Reason
		says  string
	}{
		{"at its wish", shop(100, 100, 100), []level.Job{wishing(job("a", 40, 1, 3), 2)}, 2,
			level.Wished, "This is the week that suits it best."},
		{"no wish", shop(100, 100), []level.Job{job("a", 40, 1, 2)}, 1,
			level.Soonest, "This is an early week with hours left."},
		{"the wish is taken", shop(100, 100), []level.Job{wishing(job("a", 60, 1, 2), 2), job("b", 60, 2, 2)}, 1,
			level.Nearest, "The week of May 10, 2027 would suit it best but was full or closed; this is the nearest one."},
		{"keeps its week against its wish", shop(100, 100), []level.Job{had(wishing(job("a", 40, 1, 2), 2), 1, false)}, 1,
			level.Kept, "It stays in the week it had."},
		{"its week is no longer possible", shop(100, 100), []level.Job{had(job("a", 40, 2, 2), 1, true)}, 2,
			level.NewWindow, "It was penciled in for the week of May 3, 2027 before; that week is past, or its work is due at another time now."},
		{"its week has closed", shop(0, 100), []level.Job{had(job("a", 40, 1, 2), 1, true)}, 2,
			level.LostHours, "It was penciled in for the week of May 3, 2027 before, which has too few hours left."},
		{"makes room for one that cannot go elsewhere", shop(100, 100),
			[]level.Job{had(job("a", 60, 1, 2), 1, false), job("b", 60, 1, 1)}, 2,
			level.MadeRoom, "It was penciled in for the week of May 3, 2027 before and moved so that another boat can be in time."},
		{"makes room even if told, as it must", shop(100, 100),
			[]level.Job{had(job("a", 60, 1, 2), 1, true), job("b", 60, 1, 1)}, 2,
			level.MadeRoom, "It was penciled in for the week of May 3, 2027 before and moved so that another boat can be in time."},
		{"leaves a crowd", shop(100, 100, 100, 100),
			[]level.Job{had(job("a", 40, 1, 4), 1, false), had(job("b", 30, 1, 4), 1, false), had(job("c", 30, 1, 4), 1, false)}, 2,
			level.Evened, "It was penciled in for the week of May 3, 2027 before, which was much fuller than others."},
		{"late for want of hours", shop(50, 50, 50), []level.Job{job("a", 50, 1, 1), had(job("b", 50, 1, 1), 1, true)}, 2,
			level.NoHours, "The shop has no hours left for it by May 9, 2027."},
		{"overdue", shop(50, 50), []level.Job{job("a", 50, 1, 0)}, 1,
			level.Overdue, "It is overdue, so it has the first week with hours left."},
		{"closed in all of its weeks", shop(0, 0, 50), []level.Job{job("a", 50, 1, 2)}, 3,
			level.Closed, "The shop is closed in every week that it could come by May 16, 2027."},
		{"longer than any week", shop(50, 50), []level.Job{job("a", 51, 1, 2)}, 0,
			level.TooLong, "It needs more hours than any week that it could go to has."},
		{"longer than its weeks, a later one holds it", shop(50, 50, 60), []level.Job{job("a", 51, 1, 2)}, 3,
			level.TooLong, "It needs more hours than any week that it could go to has."},
		{"beyond the weeks planned", shop(50), []level.Job{job("a", 50, 2, 3)}, 0,
			level.OutOfSpan, "Its weeks lie beyond those that are planned."},
		{"no weeks at all", nil, []level.Job{job("a", 50, 2, 3)}, 0,
			level.OutOfSpan, "Its weeks lie beyond those that are planned."},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := weekOf(c.week)
			p := level.Fit(c.weeks, c.jobs, level.DefaultTarget).Placements[0]
			if p.Week != want || p.Why.Reason != c.why {
				t.Errorf("week %q, %s; want %q, %s", p.Week, p.Why.Reason, want, c.why)
			}
			if got := p.Why.Words(words.Format{}); got != c.says {
				t.Errorf("says %q, want %q", got, c.says)
			}
		})
	}
}

func TestBookedWorkGoesFirst(t *testing.T) {
	weeks := shop(100, 100)
	weeks[0].Booked[0] = minutesOf(130)
	r := level.Fit(weeks, []level.Job{job("a", 10, 1, 2)}, 0)
	if got := r.Placements[0].Week; got != base+2 {
		t.Errorf("a goes to %s, want the week that is not booked out", got)
	}
	if len(r.Short) != 1 || r.Short[0].Over != minutesOf(30) || r.Short[0].Jobs != nil || r.Short[0].Week != base+1 {
		t.Errorf("short %+v, want 30 minutes by booked work alone", r.Short)
	}
	if r.Peak != 1.3 {
		t.Errorf("peak %.2f, want 1.30", r.Peak)
	}
}

func TestShortfallIsSpread(t *testing.T) {
	var jobs []level.Job
	for _, id := range []string{"a", "b", "c", "d", "e", "f"} {
		jobs = append(jobs, job(id, 50, 1, 2))
	}
	jobs[3].Priority = -1
	jobs = append(jobs, ranked(job("g", 20, 3, 3), 5), ranked(job("h", 90, 3, 3), 7), ranked(job("i", 20, 3, 3), 6))
	r := level.Fit(shop(100, 100, 100), jobs, 0)
	if n := len(r.Short); n != 3 || r.Short[2].Over != minutesOf(30) || !slices.Equal(r.Short[2].Jobs, []string{"g", "i"}) {
		t.Fatalf("short %+v, want 30 minutes in the third of three weeks, g before i", r.Short)
	}
	r.Short = r.Short[:2]
	over := 0
	for _, s := range r.Short {
		over += s.Over[level.Labor]
		if s.Over != minutesOf(50) || len(s.Jobs) != 1 {
			t.Errorf("short %+v, want one job of 50 minutes", s)
		}
	}
	if over != 100 || len(r.AtRisk) != 4 || r.AtRisk[0] != "d" {
		t.Errorf("%d minutes over, at risk %v; want 100, and d first", over, r.AtRisk)
	}
}

func TestUnevenSeasonsAreLevelledApart(t *testing.T) {
	var jobs []level.Job
	for _, id := range []string{"a", "b", "c", "d", "e", "f", "g", "h", "i"} {
		jobs = append(jobs, wishing(job("autumn-"+id, 30, 4, 6), 6))
	}
	for _, id := range []string{"a", "b", "c", "d", "e", "f"} {
		jobs = append(jobs, wishing(job("spring-"+id, 30, 1, 3), 1))
	}
	r := level.Fit(shop(100, 100, 100, 100, 100, 100), jobs, 0)
	for i, want := range []int{60, 60, 60, 90, 90, 90} {
		if got := r.Load[i].Pencilled[level.Labor]; got != want {
			t.Errorf("week %d holds %d minutes, want %d: a full autumn is no reason for a crowded spring", i+1, got, want)
		}
	}
	if r.Peak != 0.9 {
		t.Errorf("peak %.2f, want 0.90", r.Peak)
	}
}

// A visit that makes no sense after a week (the boat is laid up then) stays
// without a week rather than being pencilled into the winter.
func TestLastSensibleWeek(t *testing.T) {
	weeks := []level.Capacity{open(100, 60, 60), open(101, 60, 60), open(102, 60, 0)}
	job := level.Job{ID: "a", Needs: level.Amounts{level.Labor: 30}, First: 100, Deadline: civil.Week(100).Sunday(), Last: 101}
	r := level.Fit(weeks, []level.Job{job}, 0)
	if p := r.Placements[0]; p.Week != 0 || len(r.AtRisk) != 1 {
		t.Errorf("pencilled into week %d, %v at risk; want none and the job at risk", p.Week, r.AtRisk)
	}
	job.Last = 102
	if p := level.Fit(weeks, []level.Job{job}, 0).Placements[0]; p.Week != 102 || !p.Late {
		t.Errorf("pencilled into week %d, want 102, late", p.Week)
	}
}

// A week that is too full is no reason to crowd the rest of the year: forty
// hours of spring work over four free weeks stay level while an autumn week is
// short.
func TestAShortAutumnDoesNotCrowdSpring(t *testing.T) {
	var weeks []level.Capacity
	for w := range civil.Week(10) {
		weeks = append(weeks, open(100+w, 2400, 0))
	}
	jobs := []level.Job{
		{ID: "autumn-a", Needs: level.Amounts{level.Labor: 1500}, First: 100, Deadline: civil.Week(100).Sunday()},
		{ID: "autumn-b", Needs: level.Amounts{level.Labor: 1500}, First: 100, Deadline: civil.Week(100).Sunday()},
	}
	for i := range 80 {
		jobs = append(jobs, level.Job{ID: fmt.Sprint("spring", i), Needs: level.Amounts{level.Labor: 90}, First: 106, Deadline: civil.Week(109).Sunday(), Wish: 109})
	}
	r := level.Fit(weeks, jobs, 0)
	if len(r.AtRisk) != 1 {
		t.Errorf("%v at risk, want one autumn job", r.AtRisk)
	}
	for _, l := range r.Load[6:] {
		if u := l.Utilisation(); u > 0.85 {
			t.Errorf("week %d is %.0f %% full; 75 %% everywhere would do", l.Week, 100*u)
		}
	}
}
