package level

import (
	"cmp"
	"math"
	"slices"

	"bellbuoy/schedule/civil"
)

// soonerWeeks is how much sooner a late job must be able to come before it
// leaves the late week that it had. Common practice, no source.
const soonerWeeks = 4

// placeLate gives weeks to the jobs that cannot be in time. Those that were
// late before keep their weeks, who was told first; the others take the first
// week with room, the most important first, and may send on a less important
// late job. It never touches a job that is in time.
func (s *state) placeLate() {
	late := s.missed()
	for _, j := range late {
		s.late[j] = true
	}
	s.mostImportantFirst(late)
	lowest := make([]int, len(s.weeks)) // no late job of a week matters less than this
	for i := range lowest {
		lowest[i] = math.MaxInt
	}
	for _, told := range []bool{true, false} {
		for _, j := range late {
			if i := s.latePrior(j); i != none && s.jobs[j].Told == told {
				s.put(j, i)
				lowest[i] = min(lowest[i], s.jobs[j].Priority)
			}
		}
	}
	work := slices.DeleteFunc(slices.Clone(late), func(j int) bool { return s.at[j] != none })
	for len(work) > 0 {
		s.mostImportantFirst(work)
		var sentOn []int
		for _, j := range work {
			sentOn = append(sentOn, s.joinLate(j, lowest)...)
		}
		work = sentOn
	}
	for s.comeSooner(late) {
	}
}

func (s *state) mostImportantFirst(jobs []int) {
	slices.SortFunc(jobs, func(x, y int) int {
		return cmp.Or(cmp.Compare(s.jobs[y].Priority, s.jobs[x].Priority), cmp.Compare(s.rank[x], s.rank[y]))
	})
}

// latePrior is the week that the job had before, if that lies after its time
// and still has room for it.
func (s *state) latePrior(j int) int {
	job := &s.jobs[j]
	i := s.indexOf(job.Prior)
	if s.at[j] != none || i == none || i < s.afterTime(j) || i >= s.tooLate(j) || !s.fits(j, i, s.room) {
		return none
	}
	return i
}

// afterTime is the first week that is possible for the job when it is late: that
// of its deadline if days are left in it after that.
func (s *state) afterTime(j int) int {
	w := s.window[j]
	if !w.empty() && w.day < 6 {
		return w.hi
	}
	return max(w.lo, w.hi+1)
}

// tooLate is the first week in which even a late job makes no more sense.
func (s *state) tooLate(j int) int {
	if last := s.jobs[j].Last; last != 0 {
		return s.firstFrom(last + 1)
	}
	return len(s.weeks)
}

// joinLate puts the job into the first week after its time that has room or
// can get it from less important late jobs, and returns those. A job whose last
// sensible week goes by stays without a week.
func (s *state) joinLate(j int, lowest []int) []int {
	for i := s.afterTime(j); i < s.tooLate(j); i++ {
		var out []int
		ok := s.fits(j, i, s.room)
		if !ok && lowest[i] < s.jobs[j].Priority {
			out, ok = s.wouldGo(j, i, func(k int) bool { return s.late[k] && !s.wasTold(k) })
		}
		if !ok {
			continue
		}
		for _, k := range out {
			s.leave(k, LostHours)
		}
		s.put(j, i)
		lowest[i] = min(lowest[i], s.jobs[j].Priority)
		return out
	}
	return nil
}

// comeSooner moves late jobs to weeks that are a good deal sooner, if there is
// room by now, and reports whether there was.
func (s *state) comeSooner(late []int) bool {
	any := false
	for _, j := range late {
		if s.at[j] == none || s.wasTold(j) {
			continue
		}
		for i := s.afterTime(j); i < s.at[j] && s.weeks[i].Week <= s.weeks[s.at[j]].Week-soonerWeeks; i++ {
			if s.fits(j, i, s.room) {
				s.move(j, i, LostHours)
				any = true
				break
			}
		}
	}
	return any
}

// atRisk lists the jobs that have no week in time for lack of hours, the most
// important first. Jobs that are overdue anyway, or whose weeks reach beyond
// those planned, are not among them.
func (s *state) atRisk() []int {
	first, last := s.span()
	out := slices.DeleteFunc(s.missed(), func(j int) bool {
		d := s.jobs[j].Deadline
		return d < s.jobs[j].First.Monday() || d < first.Monday() || d > last.Sunday()
	})
	slices.SortStableFunc(out, s.goesBefore)
	return out
}

// span is the first and the last week given, open or closed.
func (s *state) span() (first, last civil.Week) {
	for _, weeks := range [][]Capacity{s.weeks, s.shut} {
		if n := len(weeks); n > 0 {
			last = max(last, weeks[n-1].Week)
			if first == 0 || weeks[0].Week < first {
				first = weeks[0].Week
			}
		}
	}
	return first, last
}

// shortfalls tells which weeks would be over their capacity if the jobs at risk
// were to be in time all the same. It must be asked before late jobs take hours
// from anyone.
func (s *state) shortfalls(atRisk []int) []Shortfall {
	short := make(map[civil.Week]*Shortfall)
	note := func(w civil.Week, over Amounts) *Shortfall {
		if short[w] == nil {
			short[w] = &Shortfall{Week: w}
		}
		for r := range over {
			short[w].Over[r] += over[r]
		}
		return short[w]
	}
	load := slices.Clone(s.load)
	for _, j := range atRisk {
		week, over := s.jobs[j].Deadline.Week(), s.need[j]
		if !s.window[j].empty() {
			i := s.leastOver(j, load)
			week, over = s.weeks[i].Week, Amounts{}
			s.count(&load[i], j, i)
		}
		at := note(week, over)
		at.Jobs = append(at.Jobs, s.jobs[j].ID)
	}
	for i := range s.weeks {
		if over := overBy(&load[i], s.weeks[i].roomAt(1)); over != (Amounts{}) {
			note(s.weeks[i].Week, over)
		}
	}
	for i := range s.shut {
		if booked := s.shut[i].TotalBooked(); booked != (Amounts{}) {
			note(s.shut[i].Week, booked)
		}
	}
	var out []Shortfall
	for _, w := range short {
		slices.Reverse(w.Jobs)
		out = append(out, *w)
	}
	slices.SortFunc(out, func(x, y Shortfall) int { return cmp.Compare(x.Week, y.Week) })
	return out
}

// overBy is by how much work exceeds its room, on the day on which that is most.
func overBy(load *byDay, room byDay) (over Amounts) {
	for d := range load {
		for r := range over {
			over[r] = max(over[r], load[d][r]-room[d][r])
		}
	}
	return over
}

// leastOver is the week of the job's window that needs the fewest minutes more
// to take it; of equals the one that is then over by the smallest share of its
// capacity, and the last of those, which leaves the desk the most time to find
// the hours.
func (s *state) leastOver(j int, load []byDay) int {
	best, bestMore, bestUse := none, 0, 0.0
	for i := s.window[j].hi; i >= s.window[j].lo; i-- {
		with := load[i]
		s.count(&with, j, i)
		was, is := overBy(&load[i], s.room[i]), overBy(&with, s.room[i])
		more, use := 0, 0.0
		for r := range s.kinds {
			more += is[r] - was[r]
			if s.total[i][r] > 0 {
				use = max(use, float64(s.booked[i][r]+with[6][r])/float64(s.total[i][r]))
			}
		}
		if best == none || more < bestMore || more == bestMore && use < bestUse {
			best, bestMore, bestUse = i, more, use
		}
	}
	return best
}
