package level

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
)

// none is the week index of a job that has no week.
const none = -1

// byDay is amounts that count up through the days of a week, Monday first: what
// must be done by a day, or what can be.
type byDay [7]Amounts

// state is how things stand in the course of one fitting. Weeks are counted by
// index among the open ones, so that a closed week costs nothing and a window
// is a plain interval.
type state struct {
	weeks    []Capacity // open weeks, in order of time
	open     []civil.Week
	shut     []Capacity // closed weeks
	jobs     []Job
	kinds    int       // resources that count: up to the last one that some job needs
	need     []Amounts // of each job, not negative
	window   []window  // of each job
	possible []bool    // some week of the window could hold the job beside booked work
	rank     []int     // place of each job in the order of deadline, priority, ID
	order    []int     // the jobs in that order
	at       []int     // week of each job, or none
	late     []bool    // placed after its time
	seat     []int     // place of each job among its week's members
	cause    []Reason  // why a job lost the week it had
	room     []byDay   // what each week could hold of jobs beside booked work, within its capacity
	calm     []byDay   // the same within its ceiling
	total    []Amounts // capacity of each week
	booked   []Amounts // fixed work of each week
	share    []float64 // the ceiling of each week as a share of its capacity
	load     []byDay   // placed work of each week, by the day on which it must be done
	member   [][]int   // jobs of each week, in no particular but in a definite order
	anyTold  bool      // some customer was told a week
	stop     []failure // repairs known to be hopeless as things stand
}

// window is the open weeks lo..hi in which a job is in time; lo > hi if none.
// Then lo is still the first week that could take it. day is the last day of
// week hi that counts, Monday as 0.
type window struct{ lo, hi, day int }

func (w window) empty() bool      { return w.lo > w.hi }
func (w window) holds(i int) bool { return w.lo <= i && i <= w.hi }
func (w window) within(o window) bool {
	return o.lo <= w.lo && (w.hi < o.hi || w.hi == o.hi && w.day <= o.day)
}

func newState(weeks []Capacity, jobs []Job) *state {
	s := &state{
		jobs: jobs, need: make([]Amounts, len(jobs)), window: make([]window, len(jobs)),
		possible: make([]bool, len(jobs)), rank: make([]int, len(jobs)), order: make([]int, len(jobs)),
		at: make([]int, len(jobs)), seat: make([]int, len(jobs)), late: make([]bool, len(jobs)), cause: make([]Reason, len(jobs)), kinds: 1,
	}
	s.openWeeks(weeks)
	for j := range jobs {
		for r, n := range jobs[j].Needs {
			s.need[j][r] = max(n, 0)
			if n > 0 {
				s.kinds = max(s.kinds, r+1)
			}
		}
	}
	for j := range jobs {
		s.window[j] = s.windowOf(&jobs[j])
		s.at[j] = none
		s.anyTold = s.anyTold || jobs[j].Told
		s.order[j] = j
		for i := s.window[j].lo; i <= s.window[j].hi && !s.possible[j]; i++ {
			s.possible[j] = s.fits(j, i, s.room)
		}
	}
	slices.SortFunc(s.order, func(x, y int) int {
		p, q := &jobs[x], &jobs[y]
		return cmp.Or(cmp.Compare(p.Deadline, q.Deadline), cmp.Compare(q.Priority, p.Priority),
			cmp.Compare(p.ID, q.ID), cmp.Compare(x, y))
	})
	for r, j := range s.order {
		s.rank[j] = r
	}
	return s
}

// openWeeks sorts the weeks, merges doubles and parts the open from the closed.
func (s *state) openWeeks(weeks []Capacity) {
	all := slices.SortedFunc(slices.Values(weeks), func(x, y Capacity) int { return cmp.Compare(x.Week, y.Week) })
	for k := 0; k < len(all); {
		w := Capacity{Week: all[k].Week}
		for ; k < len(all) && all[k].Week == w.Week; k++ {
			w.Clocked += all[k].Clocked
			for d := range w.Days {
				for r := range w.Days[d] {
					w.Days[d][r] += max(all[k].Days[d][r], 0)
					w.Booked[d][r] += max(all[k].Booked[d][r], 0)
				}
			}
		}
		if w.closed() {
			s.shut = append(s.shut, w)
		} else {
			s.weeks, s.open = append(s.weeks, w), append(s.open, w.Week)
			s.room = append(s.room, w.roomAt(1).notNegative())
			s.total, s.booked = append(s.total, w.Total()), append(s.booked, w.TotalBooked())
		}
	}
	s.load = make([]byDay, len(s.weeks))
	s.member = make([][]int, len(s.weeks))
	s.calm = slices.Clone(s.room)
	s.share = slices.Repeat([]float64{1}, len(s.weeks))
}

// roomAt is what the week can hold beside booked work, through each day, if it
// is filled to a share of its capacity: never more through one day than through
// the next, as work booked on a day takes the hours before it if that day is too
// short. Less than 0 is what booked work alone is over.
func (w *Capacity) roomAt(share float64) (room byDay) {
	var capacity, booked Amounts
	for d := range room {
		for r := range room[d] {
			capacity[r] += w.Days[d][r]
			booked[r] += w.Booked[d][r]
			room[d][r] = shareOf(capacity[r], share) - booked[r]
		}
	}
	room.settle()
	return room
}

// settle lowers what can be done by a day to what can be done by the next.
func (b *byDay) settle() {
	for d := 5; d >= 0; d-- {
		for r := range b[d] {
			b[d][r] = min(b[d][r], b[d+1][r])
		}
	}
}

func (b byDay) notNegative() byDay {
	for d := range b {
		for r := range b[d] {
			b[d][r] = max(b[d][r], 0)
		}
	}
	return b
}

// windowOf finds the open weeks in which the job is in time.
func (s *state) windowOf(j *Job) window {
	w := window{lo: s.firstFrom(j.First), hi: s.firstFrom(j.Deadline.Week()+1) - 1, day: 6}
	if w.hi < 0 {
		return w
	}
	w.day = s.weeks[w.hi].lastDay(j.Deadline)
	if w.day < 0 || s.weeks[w.hi].through(w.day, Labor) == 0 {
		w.hi, w.day = w.hi-1, 6
	}
	return w
}

// firstFrom is the first open week not before w; len(weeks) if there is none.
func (s *state) firstFrom(w civil.Week) int {
	i, _ := slices.BinarySearch(s.open, w)
	return i
}

// indexOf finds an open week; none if w is none or closed.
func (s *state) indexOf(w civil.Week) int {
	if i := s.firstFrom(w); i < len(s.open) && s.open[i] == w {
		return i
	}
	return none
}

// fits reports whether the week has room for the job as it stands.
func (s *state) fits(j, i int, room []byDay) bool { return s.fitsWithout(j, i, room, nil) }

// fitsFor reports whether the week would have room for j if k left it.
func (s *state) fitsFor(j, i, k int) bool {
	var gone byDay
	s.count(&gone, k, i)
	return s.fitsWithout(j, i, s.room, &gone)
}

// fitsWithout reports whether the week would have room for the job if some work
// left it.
func (s *state) fitsWithout(j, i int, room []byDay, gone *byDay) bool {
	for d := s.by(j, i); d < 7; d++ {
		for r := range s.kinds {
			free := room[i][d][r] - s.load[i][d][r]
			if gone != nil {
				free += gone[d][r]
			}
			if n := s.need[j][r]; n > 0 && n > free {
				return false
			}
		}
	}
	return true
}

// by is the last day of week i, Monday as 0, on which the job may be done.
func (s *state) by(j, i int) int {
	if w := s.window[j]; i == w.hi && !s.late[j] {
		return w.day
	}
	return 6
}

// count adds a job's needs to an account of week i.
func (s *state) count(account *byDay, j, i int) {
	for d := s.by(j, i); d < 7; d++ {
		for r := range s.kinds {
			account[d][r] += s.need[j][r]
		}
	}
}

// put gives a job a week.
func (s *state) put(j, i int) {
	s.at[j] = i
	s.seat[j] = len(s.member[i])
	s.member[i] = append(s.member[i], j)
	s.count(&s.load[i], j, i)
}

// take takes the job out of its week.
func (s *state) take(j int) {
	i := s.at[j]
	m := s.member[i]
	last := m[len(m)-1]
	m[s.seat[j]] = last
	s.seat[last] = s.seat[j]
	s.member[i] = m[:len(m)-1]
	for d := s.by(j, i); d < 7; d++ {
		for r := range s.kinds {
			s.load[i][d][r] -= s.need[j][r]
		}
	}
	s.at[j] = none
}

// move takes a job to another week and remembers why, if it had that week.
func (s *state) move(j, i int, why Reason) {
	s.leave(j, why)
	s.put(j, i)
}

// leave takes a job out of its week and remembers why, if it had that week.
func (s *state) leave(j int, why Reason) {
	if s.inPrior(j) {
		s.cause[j] = why
	}
	s.take(j)
}

// inPrior reports whether the job lies in the week that it had before.
func (s *state) inPrior(j int) bool {
	return s.at[j] != none && s.open[s.at[j]] == s.jobs[j].Prior
}

// wasTold reports whether the customer was told the week that the job lies in.
func (s *state) wasTold(j int) bool { return s.jobs[j].Told && s.inPrior(j) }

// cost is what each minute of the job costs in a week: by how far that lies from
// where the customer was told, else from where it wishes to be.
func (s *state) cost(j, i int) int {
	job := &s.jobs[j]
	if job.Told && job.Prior != 0 {
		told := *job
		told.Wish, told.Overdue = job.Prior, false
		return told.cost(s.open[i])
	}
	return job.cost(s.open[i])
}

// bySize compares what two jobs take: minutes of labor, then the other
// resources.
func (s *state) bySize(x, y int) int { return slices.Compare(s.need[x][:], s.need[y][:]) }

// use is the largest share of a week's capacity that would be taken with the
// job in it.
func (s *state) use(j, i int) float64 {
	most := 0.0
	for r := range s.kinds {
		if s.total[i][r] > 0 {
			most = max(most, float64(s.booked[i][r]+s.load[i][6][r]+s.need[j][r])/float64(s.total[i][r]))
		}
	}
	return most
}

// nearest is the week of the job's window, its own left out, that has room for
// it and costs least; of two the earlier.
func (s *state) nearest(j int, room []byDay) int {
	best, bestCost := none, 0
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		if c := s.cost(j, i); i != s.at[j] && (best == none || c < bestCost) && s.fits(j, i, room) {
			best, bestCost = i, c
		}
	}
	return best
}

// emptiest is the week of the job's window that stays the least full with it,
// within capacity; of equals the earliest.
func (s *state) emptiest(j int) int {
	best, bestUse := none, 0.0
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		if i == s.at[j] || !s.fits(j, i, s.room) {
			continue
		}
		if use := s.use(j, i); best == none || use < bestUse {
			best, bestUse = i, use
		}
	}
	return best
}
