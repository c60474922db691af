package watch

import (
	"math"
	"time"

	"bellbuoy/schedule/civil"
)

// Apart is how many days apart two nights are at the least for the freeze to be
// another one: people who heard of the first have done what they will do about
// the second.
const Apart = 4

// Run is a freeze: nights of alarm less than [Apart] days apart.
type Run struct {
	First, Last civil.Day // the days on which its first and last night end
}

// Takes reports whether a night belongs to the run.
func (r Run) Takes(night civil.Day) bool { return night > r.First-Apart && night < r.Last+Apart }

// Add widens the run by a night.
func (r Run) Add(night civil.Day) Run { return Run{min(r.First, night), max(r.Last, night)} }

// Ended says how a freeze ended.
type Ended string

// How a freeze ends.
const (
	Open     Ended = ""
	Relented Ended = "relented" // the forecast did
	Passed   Ended = "passed"   // its last night came
)

// relents is how many forecasts in a row must be above the level for a freeze to
// be off.
const relents = 2

// Event is a freeze that raised an alarm.
type Event struct {
	Run    Run     `json:"nights"`
	Low    int     `json:"low_tenths_c"` // at the yard, the lowest that was forecast
	Chance float64 `json:"chance"`       // the highest
	// Brings is the night before which deadlines lie now: the first that lay in a
	// later week when its alarm was raised. None where the freeze was first seen
	// in its own week: then nothing is leveled.
	Brings   civil.Day `json:"brings_deadlines_before"`
	RaisedAt time.Time `json:"raised_at"`
	Calm     int       `json:"forecasts_above_in_a_row"`
	EndedAt  time.Time `json:"ended_at"`
	Ended    Ended     `json:"ended"`
}

// What follows for a freeze, for the change history.
const (
	Raised   = "raise a freeze alarm"
	Again    = "raise a freeze alarm again"
	Changed  = "change a freeze alarm"
	CalledIn = "lift a freeze alarm" // it relented
	Over     = "end a freeze alarm"  // it passed
)

// Pass ends the event if its nights are over on a day, and reports whether it did.
func (e *Event) Pass(today civil.Day, now time.Time) bool {
	if e.Ended != Open || today <= e.Run.Last {
		return false
	}
	e.Ended, e.EndedAt = Passed, now
	return true
}

// Raise takes an alarm of a night into the event and says what that changed, ""
// for nothing that matters. A freeze whose nights lie in the running week brings
// no deadline forward: the desk works down a list.
func (e *Event) Raise(v *Verdict, today civil.Day, now time.Time) (said string) {
	before := *e
	e.Calm = 0
	if e.RaisedAt.IsZero() {
		e.Run, e.RaisedAt, said = Run{v.To, v.To}, now, Raised
		e.Low = Tenths(v.YardLow)
	}
	if e.Ended != Open {
		e.Ended, e.EndedAt, e.Brings, said = Open, time.Time{}, 0, Again
	}
	fresh := said != ""
	e.Run, e.Low, e.Chance = e.Run.Add(v.To), min(e.Low, Tenths(v.YardLow)), max(e.Chance, v.Chance)
	if last := v.To - 1; last.Week() > today.Week() && (fresh || v.To < e.Brings) {
		e.Brings = v.To
	}
	if said == "" && (e.Run != before.Run || e.Brings != before.Brings || e.Low != before.Low) {
		said = Changed
	}
	return said
}

// Relent takes a forecast without an alarm for the event, and reports whether the
// freeze is off. A forecast that does not cover all the nights that are left
// says nothing.
func (e *Event) Relent(nights []Verdict, today civil.Day, now time.Time) bool {
	if e.Ended != Open {
		return false
	}
	known := make(map[civil.Day]bool)
	for i := range nights {
		known[nights[i].To] = nights[i].Known
	}
	for n := max(e.Run.First, today); n <= e.Run.Last; n++ {
		if !known[n] {
			return false
		}
	}
	if e.Calm++; e.Calm < relents {
		return false
	}
	e.Ended, e.EndedAt = Relented, now
	return true
}

// Tenths are degrees in tenths, rounded half away from zero.
func Tenths(c float64) int { return int(math.Round(c * 10)) }
