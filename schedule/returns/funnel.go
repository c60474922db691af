package returns

import "bellbuoy/schedule/measure"

// Reach is how far a boat has got in a season.
type Reach int

// The steps of a season, in order. Whoever has reached one counts in all before
// it, so that no step is larger than the one above: a boat that came without an
// invitation has passed that step, and [Stage.Skipped] says how many did.
const (
	InCare Reach = iota
	IsDue
	Invited
	Answered
	Booked
	Done
	reaches
)

// String is the step's name in addresses and files.
func (r Reach) String() string {
	return [...]string{"in-care", "due", "reminded", "replied", "booked", "done"}[r]
}

// Fate is what became of a boat that was due in a season.
type Fate string

// The fates. Every due boat has exactly one.
const (
	FateDone      Fate = "done"         // the shop did the season's work
	FateElsewhere Fate = "elsewhere"    // the season's work is on file as done elsewhere
	FateLost      Fate = "lost"         // sold on, scrapped or gone before the season ended
	FateDeclined  Fate = "declined"     // the customer said no
	FateBooked    Fate = "booked"       // comes on a fixed day
	FateAnswered  Fate = "replied"      // the customer said something else: later, call me
	FateSilent    Fate = "no-reply"     // was told and has not answered
	FateUntold    Fate = "not-reminded" // has not been told
)

// Fates are all of them in reading order.
func Fates() []Fate {
	return []Fate{FateDone, FateBooked, FateAnswered, FateSilent, FateUntold, FateElsewhere, FateDeclined, FateLost}
}

// Passage is one boat's way through a season, as facts.
type Passage struct {
	Boat     string
	Due      bool
	Step     string // the last reminder heard before the answer, the booking or the visit; "" for none
	Invited  bool
	Answered bool
	Booked   bool
	Declined bool
	Done     bool // the shop did the season's work
	// Elsewhere and Lost as the fates of that name.
	Elsewhere, Lost bool
	List            measure.Cents // the season's visit at list price
	Paid            measure.Cents // what the shop was paid in the season, for whatever work
}

// Reach is the farthest step that the boat has got to.
func (p *Passage) Reach() Reach {
	switch {
	case !p.Due:
		return InCare
	case p.Done:
		return Done
	case p.Booked:
		return Booked
	case p.Answered || p.Declined:
		return Answered
	case p.Invited:
		return Invited
	}
	return IsDue
}

// Fate is what became of a due boat, "" for one that was not due.
func (p *Passage) Fate() Fate {
	switch {
	case !p.Due:
		return ""
	case p.Done:
		return FateDone
	case p.Elsewhere:
		return FateElsewhere
	case p.Lost:
		return FateLost
	case p.Declined:
		return FateDeclined
	case p.Booked:
		return FateBooked
	case p.Answered:
		return FateAnswered
	case p.Invited:
		return FateSilent
	}
	return FateUntold
}

// own reports whether the boat took the step itself and did not only pass it.
func (p *Passage) own(r Reach) bool {
	switch r {
	case Invited:
		return p.Invited
	case Answered:
		return p.Answered || p.Declined
	case Booked:
		return p.Booked
	}
	return true
}

// Skipped reports whether the boat passed a step without taking it.
func (p *Passage) Skipped(r Reach) bool { return r <= p.Reach() && !p.own(r) }

// Stage is one step of the funnel.
type Stage struct {
	Reach   Reach
	Boats   int           // that got so far or farther
	Skipped int           // of these, how many passed the step without taking it
	List    measure.Cents // the season's visits at list price
	// SkippedList is the same of those who skipped the step.
	SkippedList measure.Cents
	Paid        measure.Cents // what they have paid in the season
}

// Tally is a number of boats with what their visits are worth and have paid.
type Tally struct {
	Boats      int
	List, Paid measure.Cents
}

func (t *Tally) add(p *Passage) {
	t.Boats++
	t.List += p.List
	t.Paid += p.Paid
}

// Funnel is a season's way from in care to done.
type Funnel struct {
	Stages []Stage
	Fates  map[Fate]Tally
	// ByStep counts boats that answered, booked or came, by the last reminder
	// that they had heard; "" are those that had heard none. What followed a
	// reminder was not for that reason caused by it.
	ByStep map[string]Tally
}

// CountFunnel adds up a season's passages.
func CountFunnel(all []Passage) Funnel {
	f := Funnel{Stages: make([]Stage, reaches), Fates: make(map[Fate]Tally), ByStep: make(map[string]Tally)}
	for r := range f.Stages {
		f.Stages[r].Reach = Reach(r)
	}
	for i := range all {
		p := &all[i]
		for r := InCare; r <= p.Reach(); r++ {
			st := &f.Stages[r]
			st.Boats++
			st.List += p.List
			st.Paid += p.Paid
			if p.Skipped(r) {
				st.Skipped++
				st.SkippedList += p.List
			}
		}
		if fate := p.Fate(); fate != "" {
			t := f.Fates[fate]
			t.add(p)
			f.Fates[fate] = t
		}
		if p.Reach() >= Answered {
			t := f.ByStep[p.Step]
			t.add(p)
			f.ByStep[p.Step] = t
		}
	}
	return f
}

// MarshalText writes the step's name.
func (r Reach) MarshalText() ([]byte, error) { return []byte(r.String()), nil }
