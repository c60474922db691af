package level

import "bellbuoy/schedule/civil"

// Week is what the shop can work in one week.
type Week struct {
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
