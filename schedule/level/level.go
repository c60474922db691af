package level

import (
	"cmp"
	"fmt"
	"slices"

	"bellbuoy/schedule/civil"
)

// Capacity is what the shop can work in one week.
type Capacity struct {
	Week     civil.Week
	Capacity int // minutes that may be sold; 0 or less means closed
	Booked   int // minutes of fixed work, taken first; may exceed Capacity
}

// Job is one visit that nobody has fixed yet. It is never split over weeks.
type Job struct {
	ID       string
	Minutes  int        // labour; less than 0 counts as 0
	First    civil.Week // first week possible
	Deadline civil.Week // last week that is in time
	Last     civil.Week // last week that makes sense even if it is late, 0 for any
	Wish     civil.Week // the week that wastes least, 0 for none
	Priority int        // higher goes first when hours are short
	Prior    civil.Week // where it was pencilled before, 0 for new
	Told     bool       // the customer was told Prior
}

// Placement says where a job went.
type Placement struct {
	ID    string
	Week  civil.Week // 0: it did not fit into any week
	Late  bool       // after its deadline
	Moved bool       // it had a week before, and this is not that week
	Why   Why
}

// Load is one week's hours after fitting, in minutes.
type Load struct {
	Week      civil.Week
	Capacity  int
	Booked    int
	Pencilled int
	Ceiling   int // what the plan wants the week to hold at most, booked work included
}

// Utilisation is the share of the capacity that is taken: 1 is full. A closed
// week with work in it is 0: it has no share to speak of, see [Shortfall].
func (l Load) Utilisation() float64 {
	if l.Capacity <= 0 {
		return 0
	}
	return float64(l.Booked+l.Pencilled) / float64(l.Capacity)
}

// Shortfall is a week that would be over its capacity if every deadline were
// to hold. A job at risk is counted in the week of its own that needs the fewest
// minutes more for it; among weeks that are equally full the missing minutes are
// spread, as overtime would be.
type Shortfall struct {
	Week civil.Week
	Over int      // minutes over capacity
	Jobs []string // the jobs at risk that were counted here, in the order in which they would go; none if booked work alone is too much
}

// Result is the fitted plan.
type Result struct {
	Placements []Placement // one for each job, in the order of the jobs
	Load       []Load      // one for each week, in order of time
	Peak       float64     // largest utilisation of any open week
	Level      float64     // largest share of its capacity that a week was to hold
	Moved      int         // jobs that had a week and lost it
	ToldMoved  int         // those of them whose customer was told
	Short      []Shortfall // in order of time
	AtRisk     []string    // jobs that miss their deadline for want of hours, lowest priority first
}

// Fit gives every job a week. It is deterministic: equal input gives an equal
// plan, whatever the order of weeks and jobs, as long as the jobs' IDs differ.
// Weeks that are absent or have no capacity are closed; a week given twice
// counts once, with the sums of both. The weeks should reach to the last
// deadline: a job that could wait until after them is fitted into them, and only
// if that fails is left out, which is no shortfall.
//
// Fitting a plan again with its own weeks as Prior moves nothing.
func Fit(weeks []Capacity, jobs []Job) Result {
	s := newState(weeks, jobs)
	s.setCeilings()
	s.keepPrior()
	s.fill()
	s.followWishes()
	s.settle()
	atRisk := s.atRisk()
	short := s.shortfalls(atRisk)
	s.placeLate()
	return s.result(atRisk, short)
}

// result writes down how the board stands. atRisk comes most important first.
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
	for i, w := range s.weeks {
		l := Load{Week: w.Week, Capacity: w.Capacity, Booked: w.Booked, Pencilled: s.load[i] - w.Booked, Ceiling: s.ceil[i]}
		r.Load = append(r.Load, l)
		r.Peak = max(r.Peak, l.Utilisation())
		r.Level = max(r.Level, float64(s.ceil[i])/float64(w.Capacity))
	}
	for _, w := range s.shut {
		r.Load = append(r.Load, Load{Week: w.Week, Booked: w.Booked})
	}
	slices.SortFunc(r.Load, func(x, y Load) int { return cmp.Compare(x.Week, y.Week) })
	return r
}

func (s *state) placement(j int) Placement {
	job := &s.jobs[j]
	p := Placement{ID: job.ID}
	if i := s.at[j]; i != none {
		p.Week = s.weeks[i].Week
		p.Late = p.Week > job.Deadline
	}
	p.Moved = job.Prior != 0 && p.Week != job.Prior
	p.Why = Why{s.reason(j, p), job.Wish, job.Prior, job.Deadline}
	return p
}

func (s *state) reason(j int, p Placement) Reason {
	job := &s.jobs[j]
	switch {
	case p.Week == 0 || p.Late:
		return s.reasonLate(j)
	case p.Week == job.Prior:
		return Kept
	case job.Prior != 0:
		return s.cause[j]
	case job.Wish == 0:
		return Soonest
	case p.Week == job.Wish:
		return Wished
	}
	return Nearest
}

func (s *state) reasonLate(j int) Reason {
	job := &s.jobs[j]
	first, last := s.span()
	switch {
	case job.Deadline < job.First || job.Deadline < first:
		return Overdue
	case job.First > last || job.Deadline > last:
		return OutOfSpan
	case s.window[j].empty():
		return Closed
	case s.size[j] > s.largest(s.window[j]):
		return TooLong
	}
	return NoHours
}

// largest is the largest capacity of any week in the window.
func (s *state) largest(w window) int {
	most := 0
	for i := w.lo; i <= w.hi; i++ {
		most = max(most, s.weeks[i].Capacity)
	}
	return most
}

// Reason names what decided the week of a job.
type Reason string

// The reasons. The first group is in time, the second is not.
const (
	Kept      Reason = "kept"       // the week it had before
	Wished    Reason = "wished"     // the week that wastes least
	Nearest   Reason = "nearest"    // near the wished week, which is full, closed or too late
	Soonest   Reason = "soonest"    // it has no wish: an early week with hours left
	NewWindow Reason = "new-window" // its earlier week is no longer possible for it
	LostHours Reason = "lost-hours" // its earlier week cannot hold it any more
	MadeRoom  Reason = "made-room"  // it moved so that another job could be in time
	Evened    Reason = "evened"     // it moved because its earlier week was too full

	NoHours   Reason = "no-hours"    // no hours left by its deadline
	Overdue   Reason = "overdue"     // its deadline was over before it could start
	Closed    Reason = "closed"      // the shop is closed in all of its weeks
	TooLong   Reason = "too-long"    // longer than any week that it could go to
	OutOfSpan Reason = "out-of-span" // its weeks lie beyond those planned
)

// Why explains a placement from the facts that decided it.
type Why struct {
	Reason   Reason
	Wish     civil.Week // 0 for none
	Prior    civil.Week // 0 for none
	Deadline civil.Week
}

// String says the reason in one plain sentence, without the week it explains.
func (w Why) String() string {
	switch w.Reason {
	case Kept:
		return "It stays in the week it had."
	case Wished:
		return "This is the week that wastes least."
	case Nearest:
		return fmt.Sprintf("Week %s would be best but is full or closed; this is near to it.", w.Wish)
	case Soonest:
		return "This is an early week with hours left."
	case NewWindow:
		return fmt.Sprintf("Week %s, which it had, is no longer possible for it.", w.Prior)
	case LostHours:
		return fmt.Sprintf("Week %s, which it had, has too few hours now.", w.Prior)
	case MadeRoom:
		return fmt.Sprintf("It left week %s so that another visit can be in time.", w.Prior)
	case Evened:
		return fmt.Sprintf("It left week %s, which was much fuller than others.", w.Prior)
	case NoHours:
		return fmt.Sprintf("The shop has no hours left for it by week %s.", w.Deadline)
	case Overdue:
		return "Its deadline is over; it goes into the first week with hours left."
	case Closed:
		return fmt.Sprintf("The shop is closed in every week that it could come by week %s.", w.Deadline)
	case TooLong:
		return "It needs more hours than any week that it could go to has."
	case OutOfSpan:
		return "Its weeks lie beyond those that were planned."
	}
	return ""
}

// Place puts one job into the load as it stands, which the caller gives in
// Booked: booked and pencilled minutes together, the job's own not among them.
// It moves nothing else and costs one look at each week, so it serves a re-plan
// after one change. level is the share of its capacity that a week should hold
// at most ([Result.Level] of the plan that it joins).
//
// The job keeps its earlier week while that has hours for it. Else it takes the
// week nearest to its wish (without one: the earliest) that stays within level;
// if there is none, the emptiest week that stays within capacity. False means
// that no week in time can hold it without moving others: run [Fit].
func Place(weeks []Capacity, job Job, level float64) (civil.Week, bool) {
	var calm, tight civil.Week
	calmOff, tightUse := 0, 0.0
	for _, w := range weeks {
		load := max(w.Booked, 0) + max(job.Minutes, 0)
		if w.Week < job.First || w.Week > job.Deadline || w.Capacity <= 0 || load > w.Capacity {
			continue
		}
		if w.Week == job.Prior {
			return w.Week, true
		}
		use := float64(load) / float64(w.Capacity)
		if off := distance(job, w.Week); use <= level && (calm == 0 || off < calmOff || off == calmOff && w.Week < calm) {
			calm, calmOff = w.Week, off
		}
		if tight == 0 || use < tightUse || use == tightUse && w.Week < tight {
			tight, tightUse = w.Week, use
		}
	}
	if calm != 0 {
		return calm, true
	}
	return tight, tight != 0
}

// distance is how many weeks a week lies from the one the job wishes for.
func distance(j Job, w civil.Week) int {
	wish := j.Wish
	if wish == 0 {
		wish = j.First
	}
	return max(int(w-wish), int(wish-w))
}
