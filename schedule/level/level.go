package level

import (
	"cmp"
	"fmt"
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// DefaultTarget is the share of its available hours up to which a week is
// filled with visits while that holds them all. The rest is left for visits that
// are booked at short notice. The allowance for walk-ins is taken off before:
// with [DefaultAllowance] a week is filled to about 64 % of its clocked hours.
// Common practice, no source.
const DefaultTarget = 0.85

// What a visit costs in a week that is not its wish, for each minute and week:
// the summer is what the boat is for, but later than wished is nearer to late.
const (
	earlyCost = 1
	lateCost  = 3
	// tooSoonCost is what each minute before the week that the job should not
	// come before costs. It is more than any number of weeks off the wish: such a
	// week is taken only if the target cannot hold otherwise.
	tooSoonCost = 1000
)

// Job is one visit that nobody has fixed yet. It is never split over weeks.
type Job struct {
	ID        string
	Needs     Amounts    // less than 0 counts as 0
	First     civil.Week // first week possible
	NotBefore civil.Week // before this week only if the target cannot hold otherwise, 0 for none
	Deadline  civil.Day  // last day that is in time; the week it lies in serves as far as the shop works in it by then
	Last      civil.Week // last week that makes sense even if it is late, 0 for any
	Wish      civil.Week // the week that suits best, 0 for the first
	Overdue   bool       // it is late already: the earliest week with room, before all that is not
	Priority  int        // higher goes first when hours are short
	Prior     civil.Week // where it was pencilled before, 0 for new
	Told      bool       // the customer was told Prior
}

// cost is what each minute of the job costs in a week.
func (j *Job) cost(w civil.Week) int {
	wish := j.Wish
	if wish == 0 || j.Overdue {
		wish = j.First
	}
	c := max(earlyCost*int(wish-w), lateCost*int(w-wish))
	if w < j.NotBefore {
		c += tooSoonCost * int(j.NotBefore-w)
	}
	return c
}

// Placement says where a job went.
type Placement struct {
	ID    string
	Week  civil.Week // 0: it did not fit into any week
	Late  bool       // after its deadline
	Moved bool       // it had a week before, and this is not that week
	Why   Why
}

// Load is what one week holds after fitting.
type Load struct {
	Week      civil.Week
	Clocked   int // minutes, before the allowance
	Capacity  Amounts
	Booked    Amounts
	Pencilled Amounts
	Ceiling   Amounts // what the plan wants the week to hold at most, booked work included
}

// Utilisation is the largest share of a capacity that is taken: 1 is full. A
// closed week with work in it is 0: it has no share to speak of, see
// [Shortfall].
func (l Load) Utilisation() float64 {
	most := 0.0
	for r, c := range l.Capacity {
		if c > 0 {
			most = max(most, float64(l.Booked[r]+l.Pencilled[r])/float64(c))
		}
	}
	return most
}

// Shortfall is a week that would be over its capacity if every deadline were
// to hold. A job at risk is counted in the week of its own that needs the fewest
// minutes more for it; among weeks that are equally full the missing minutes are
// spread, as overtime would be.
type Shortfall struct {
	Week civil.Week
	Over Amounts  // over capacity, on the day of the week on which most is missing
	Jobs []string // the jobs at risk that were counted here, in the order in which they would go; none if booked work alone is too much
}

// Result is the fitted plan.
type Result struct {
	Placements []Placement // one for each job, in the order of the jobs
	Load       []Load      // one for each week, in order of time
	Peak       float64     // largest utilisation of any open week
	Moved      int         // jobs that had a week and lost it
	ToldMoved  int         // those of them whose customer was told
	Short      []Shortfall // in order of time
	AtRisk     []string    // jobs that miss their deadline for lack of hours, lowest priority first
}

// Fit gives every job a week. Weeks fill up to the target, a share of their
// capacity, as close to the jobs' wishes as possible; only what does not fit
// under it is levelled. It is deterministic: equal input gives an equal plan,
// whatever the order of weeks and jobs, as long as the jobs' IDs differ. Weeks
// that are absent or have no labor are closed; a week given twice counts once,
// with the sums of both. The weeks should reach to the last deadline: a job that
// could wait until after them is fitted into them, and only if that fails is
// left out, which is no shortfall.
//
// Fitting a plan again with its own weeks as Prior moves nothing.
func Fit(weeks []Capacity, jobs []Job, target float64) Result {
	s := newState(weeks, jobs)
	s.setCeilings(target)
	s.keepPrior()
	s.fill()
	s.followWishes()
	s.settle()
	s.improve()
	s.hasten(nil)
	atRisk := s.atRisk()
	short := s.shortfalls(atRisk)
	s.placeLate()
	return s.result(atRisk, short)
}

// Place puts one job into the load as it stands, booked and pencilled work
// together by week, the job's own not among it. It moves nothing else and costs
// one look at each week, so it serves a re-plan after one change.
//
// The job keeps its earlier week while that has hours for it, unless it is
// overdue, its customer was told nothing and an earlier week stays within the
// target. Else it takes the week that [Fit]
// would like best among those that stay within the target; if there is none, the
// earliest with room if it is overdue, else the one that stays the emptiest.
// False means that no week in time can hold it without moving others: run [Fit].
//
// What else lies in the week of the deadline is taken to be done before it: the
// week's load does not tell what could wait until after.
func Place(weeks []Capacity, load map[civil.Week]Amounts, job Job, target float64) (Placement, bool) {
	week, ok := place(weeks, load, &job, target)
	p := Placement{ID: job.ID, Week: week, Moved: job.Prior != 0 && week != job.Prior}
	moved := LostHours
	if job.Prior < job.First || job.Prior > job.Deadline.Week() {
		moved = NewWindow
	}
	p.Why = Why{job.reason(week, moved), job.Wish, job.Prior, job.Deadline}
	return p, ok
}

func place(weeks []Capacity, load map[civil.Week]Amounts, job *Job, target float64) (civil.Week, bool) {
	var calm, tight civil.Week
	calmCost, tightUse, stays := 0, 0.0, false
	for i := range weeks {
		w := &weeks[i]
		cut := w.lastDay(job.Deadline)
		if w.Week < job.First || cut < 0 || w.closed() {
			continue
		}
		use, ok := 0.0, true
		for r := range job.Needs {
			total := load[w.Week][r] + max(job.Needs[r], 0)
			by := w.through(cut, Resource(r))
			if job.Needs[r] <= 0 && r > 0 {
				continue
			}
			ok = ok && total <= by
			if by > 0 {
				use = max(use, float64(total)/float64(by))
			}
		}
		if !ok {
			continue
		}
		if w.Week == job.Prior {
			if job.Told || !job.Overdue {
				return w.Week, true
			}
			stays = true
		}
		if c := job.cost(w.Week); use <= target && (calm == 0 || c < calmCost || c == calmCost && w.Week < calm) {
			calm, calmCost = w.Week, c
		}
		sooner := use < tightUse || use == tightUse && w.Week < tight
		if job.Overdue {
			sooner = w.Week < tight
		}
		if tight == 0 || sooner {
			tight, tightUse = w.Week, use
		}
	}
	switch {
	case stays && (calm == 0 || job.cost(job.Prior) <= calmCost):
		return job.Prior, true
	case calm != 0:
		return calm, true
	}
	return tight, tight != 0
}

// result writes down how the plan stands. atRisk comes most important first.
func (s *state) result(atRisk []int, short []Shortfall) Result {
	r := Result{Placements: make([]Placement, len(s.jobs)), Short: short}
	for j := range s.jobs {
		p := s.placement(j)
		if p.Moved {
			r.Moved++
			if s.jobs[j].Told {
				r.ToldMoved++
			}
		}
		r.Placements[j] = p
	}
	for _, j := range slices.Backward(atRisk) {
		r.AtRisk = append(r.AtRisk, s.jobs[j].ID)
	}
	for i := range s.weeks {
		l := Load{Week: s.weeks[i].Week, Clocked: s.weeks[i].Clocked, Capacity: s.total[i], Booked: s.booked[i], Pencilled: s.load[i][6]}
		for r := range l.Ceiling {
			l.Ceiling[r] = shareOf(l.Capacity[r], s.share[i])
		}
		r.Load = append(r.Load, l)
		r.Peak = max(r.Peak, l.Utilisation())
	}
	for i := range s.shut {
		r.Load = append(r.Load, Load{Week: s.shut[i].Week, Booked: s.shut[i].TotalBooked()})
	}
	slices.SortFunc(r.Load, func(x, y Load) int { return cmp.Compare(x.Week, y.Week) })
	return r
}

func (s *state) placement(j int) Placement {
	job := &s.jobs[j]
	p := Placement{ID: job.ID}
	if i := s.at[j]; i != none {
		p.Week = s.weeks[i].Week
		p.Late = s.late[j]
	}
	p.Moved = job.Prior != 0 && p.Week != job.Prior
	why := job.reason(p.Week, s.cause[j])
	if p.Week == 0 || p.Late {
		why = s.reasonLate(j)
	}
	p.Why = Why{why, job.Wish, job.Prior, job.Deadline}
	return p
}

// reason is why a job lies in a week in its time; moved says why if it had
// another one.
func (j *Job) reason(w civil.Week, moved Reason) Reason {
	switch {
	case j.Overdue:
		return Overdue
	case w == j.Prior:
		return Kept
	case j.Prior != 0:
		return moved
	case j.Wish == 0:
		return Soonest
	case w == j.Wish:
		return Wished
	}
	return Nearest
}

func (s *state) reasonLate(j int) Reason {
	job := &s.jobs[j]
	first, last := s.span()
	switch {
	case job.Deadline < job.First.Monday() || job.Deadline < first.Monday():
		return Overdue
	case job.First > last || job.Deadline > last.Sunday():
		return OutOfSpan
	case s.window[j].empty():
		return Closed
	case !s.possible[j] && s.longerThanAny(j):
		return TooLong
	}
	return NoHours
}

// longerThanAny reports whether no week of the job's window could hold it even
// if nothing were booked.
func (s *state) longerThanAny(j int) bool {
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		ok := true
		for r, n := range s.need[j] {
			ok = ok && n <= s.total[i][r]
		}
		if ok {
			return false
		}
	}
	return true
}

// Reason names what decided the week of a job.
type Reason string

// The reasons. The first group is in time, the second is not; an overdue job is
// either.
const (
	Kept      Reason = "kept"       // the week it had before
	Wished    Reason = "wished"     // the week that suits best
	Nearest   Reason = "nearest"    // near the wished week, which is full, closed or too late
	Soonest   Reason = "soonest"    // it has no wish: an early week with hours left
	NewWindow Reason = "new-window" // its earlier week is no longer possible for it
	LostHours Reason = "lost-hours" // its earlier week cannot hold it any more
	MadeRoom  Reason = "made-room"  // it moved so that another job could be in time
	Evened    Reason = "evened"     // it moved because its earlier week was too full
	Refilled  Reason = "refilled"   // an earlier version of the program had filled the weeks otherwise; set by callers

	NoHours   Reason = "no-hours"    // no hours left by its deadline
	Overdue   Reason = "overdue"     // its deadline is over: the earliest week with room
	Closed    Reason = "closed"      // the shop is closed in all of its weeks
	TooLong   Reason = "too-long"    // longer than any week that it could go to
	OutOfSpan Reason = "out-of-span" // its weeks lie beyond those planned
)

// Why explains a placement from the facts that decided it.
type Why struct {
	Reason   Reason
	Wish     civil.Week // 0 for none
	Prior    civil.Week // 0 for none
	Deadline civil.Day
}

// Words says the reason in one plain sentence, without the week it explains.
func (w Why) Words(f words.Format) string {
	had := "It was penciled in for the week of " + f.Date(w.Prior.Monday()) + " before"
	switch w.Reason {
	case Kept:
		return "It stays in the week it had."
	case Wished:
		return "This is the week that suits it best."
	case Nearest:
		return fmt.Sprintf("The week of %s would suit it best but was full or closed; this is the nearest one.", f.Date(w.Wish.Monday()))
	case Soonest:
		return "This is an early week with hours left."
	case NewWindow:
		return had + "; that week is past, or its work is due at another time now."
	case LostHours:
		return had + ", which has too few hours left."
	case MadeRoom:
		return had + " and moved so that another boat can be in time."
	case Evened:
		return had + ", which was much fuller than others."
	case Refilled:
		return had + "; weeks are filled closer to what suits each boat now."
	case NoHours:
		return fmt.Sprintf("The shop has no hours left for it by %s.", f.Date(w.Deadline))
	case Overdue:
		return "It is overdue, so it has the first week with hours left."
	case Closed:
		return fmt.Sprintf("The shop is closed in every week that it could come by %s.", f.Date(w.Deadline))
	case TooLong:
		return "It needs more hours than any week that it could go to has."
	case OutOfSpan:
		return "Its weeks lie beyond those that are planned."
	}
	return ""
}
