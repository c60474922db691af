package demo

import (
	"math/rand/v2"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// SeasonVisit is a season's visit of the past: when it was planned and what
// became of it.
type SeasonVisit struct {
	CustomerID, BoatID, VisitID, Kind string
	Day                               civil.Day // planned
	Came                              civil.Day // none if the boat did not come
	Open                              bool      // may still come: the customer has heard the invitation only
}

// VisitNote is what a customer said on the telephone about a visit.
type VisitNote struct {
	CustomerID, BoatID, VisitID string
	On                          civil.Day
	Booked                      bool // else declined
}

// Messages is what was written to customers in past seasons, what they answered,
// and which nudges were held back by lot.
type Messages struct {
	Notified []schedule.Notified
	Notes    []VisitNote
	Holdouts []schedule.Holdout
}

// HeldPercent is how many of the invented shop's customers in a hundred get no
// nudge in a spring.
const HeldPercent = 15

// Days of the steps before a visit's planned day, and how long an answer takes.
const (
	invitedBefore  = 42
	nudgedBefore   = 21
	calledBefore   = 5
	longestToReply = 14
)

// Write invents the letters about some visits up to a day, and the answers. It
// explains what is on file and changes nothing of it: who came had booked or
// not, who did not come was silent or said no. That some were held out made no
// difference to anybody, as the owner's page then finds.
func Write(rng *rand.Rand, visits []SeasonVisit, today civil.Day) *Messages {
	w := &writer{rng: rng, today: today, out: &Messages{}, lots: make(map[string]bool)}
	for i := range visits {
		w.visit(&visits[i])
	}
	return w.out
}

type writer struct {
	rng   *rand.Rand
	today civil.Day
	out   *Messages
	lots  map[string]bool // by customer and year
}

// visit plays the letters about one visit until the customer answers, comes, or
// hears the last of them.
func (w *writer) visit(v *SeasonVisit) {
	declines := v.Came == 0 && !v.Open && chance(w.rng, 0.15)
	for _, step := range []struct {
		step   schedule.Step
		on     civil.Day
		answer float64 // the chance that the step is answered
	}{
		{schedule.StepInvitation, v.Day - invitedBefore, 0.5},
		{schedule.StepNudge, v.Day - nudgedBefore, 0.5},
		{schedule.StepLastCall, v.Day - calledBefore, 0.6},
	} {
		reply := step.on + 1 + civil.Day(w.rng.IntN(longestToReply))
		answers := (v.Came != 0 || declines) && chance(w.rng, step.answer)
		if v.Open && step.step != schedule.StepInvitation {
			return
		}
		if step.on > w.today || v.Came != 0 && step.on >= v.Came {
			return
		}
		if step.step == schedule.StepNudge && w.held(v, step.on) {
			continue
		}
		w.out.Notified = append(w.out.Notified, schedule.Notified{CustomerID: v.CustomerID, Subject: v.VisitID, Step: step.step, On: step.on, Week: v.Day.Week()})
		if answers && reply <= w.today && (v.Came == 0 || reply < v.Came) {
			w.out.Notes = append(w.out.Notes, VisitNote{v.CustomerID, v.BoatID, v.VisitID, reply, v.Came != 0})
			return
		}
	}
}

// held draws lots for the nudge of a fit-out; some hold work for which none may
// be held back.
func (w *writer) held(v *SeasonVisit, on civil.Day) bool {
	lot, guarded := chance(w.rng, HeldPercent/100.0), chance(w.rng, 0.5)
	if v.Kind != schedule.FitOut || guarded {
		return false
	}
	key := v.CustomerID + on.String()[:4]
	if first, drawn := w.lots[key]; drawn {
		lot = first
	}
	w.lots[key] = lot
	w.out.Holdouts = append(w.out.Holdouts, schedule.Holdout{CustomerID: v.CustomerID, BoatID: v.BoatID, VisitID: v.VisitID, On: on, Held: lot, Percent: HeldPercent})
	return lot
}
