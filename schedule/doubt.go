package schedule

import (
	"cmp"
	"fmt"
	"slices"

	"bellbuoy/schedule/civil"
)

// Doubt is a reason to ask whether an entry is right: it may be, and hardly ever
// is. Whoever enters it confirms it ("yes, this is right"); nothing is refused for
// good.
type Doubt struct {
	Code  string // names the doubt in commands and in the change history
	Field string // the field of the form that it is about: "day", "hours", "service"
	Words string // one sentence for whoever entered it
}

// The codes of the doubts.
const (
	DoubtHours     = "hours"      // more meter hours than an engine runs
	DoubtTwice     = "twice"      // the same work on the same day is on record
	DoubtTooOld    = "too-old"    // work on a boat before there was one
	DoubtOther     = "other-boat" // work that nothing on this boat takes
	DoubtTooEarly  = "too-early"  // a winterization in the middle of the season
	DoubtTooLate   = "too-late"   // a season visit booked after its last good day
	DoubtClosed    = "closed"     // booked for a day on which nobody works
	DoubtClash     = "clash"      // booked for the hour at which another boat comes
	DoubtFullDay   = "full-day"   // booked for a day whose hours others have
	earliestMargin = 28           // days before the first possible lay-up week from which on a lay-up is believed
)

// Hours that hardly any pleasure boat's engine passes: a lifetime on the meter,
// and a year's running. Common practice, no source.
const (
	lifetimeHours Hours = 50_000 // 5,000 h
	yearHours     Hours = 10_000 // 1,000 h
)

// DoubtReading doubts a meter reading: one beyond a lifetime's hours, or more
// than a thousand hours a year since the reading before it. A new meter is
// compared with nothing.
func (p *Planner) DoubtReading(f *Facts, r Reading) []Doubt {
	last, ok := Reading{}, false
	for _, old := range f.Readings {
		if old.ComponentID == r.ComponentID && old.Day <= r.Day && (!ok || old.Day >= last.Day) {
			last, ok = old, true
		}
	}
	for _, rec := range f.Records {
		if rec.ComponentID == r.ComponentID && rec.HasHours && rec.Day <= r.Day && (!ok || rec.Day >= last.Day) {
			last, ok = Reading{Day: rec.Day, Hours: rec.Hours}, true
		}
	}
	switch {
	case r.Hours > lifetimeHours:
		return []Doubt{{DoubtHours, "hours", fmt.Sprintf("%s h is more than an engine runs in its life. Look at the meter's decimal again.", p.set.Format.Hours(r.Hours))}}
	case ok && !r.NewMeter && r.Hours-last.Hours > max(yearHours/10, yearHours*Hours(r.Day-last.Day)/365):
		return []Doubt{{DoubtHours, "hours", fmt.Sprintf("%s h is %s h more than on %s. Look at the meter again.", p.set.Format.Hours(r.Hours), p.set.Format.Hours(r.Hours-last.Hours), p.set.Format.Date(last.Day))}}
	}
	return nil
}

// DoubtRecord doubts a piece of work. layUpFirst is how many weeks before its
// deadline a winterization comes at the earliest, by the shop's settings.
func (p *Planner) DoubtRecord(f *Facts, r Record, layUpFirst int) []Doubt {
	var all []Doubt
	title := p.cat.ServiceTitle(r.Service)
	if r.HasHours {
		all = p.DoubtReading(f, Reading{ComponentID: r.ComponentID, Day: r.Day, Hours: r.Hours})
	}
	if slices.ContainsFunc(f.Records, func(o Record) bool {
		return o.Day == r.Day && o.Service == r.Service && o.ComponentID == r.ComponentID && o.By == r.By && o.ID != r.ID && (r.Service != ServiceOther || o.Note == r.Note)
	}) {
		all = append(all, Doubt{DoubtTwice, "service", fmt.Sprintf("%q on %s is on record already.", title, p.set.Format.Date(r.Day))})
	}
	if born := f.firstDay(r.ComponentID); r.Day < born {
		all = append(all, Doubt{DoubtTooOld, "day", fmt.Sprintf("%s is before there was this boat or part (%s).", p.set.Format.Date(r.Day), p.set.Format.Date(born))})
	}
	if r.Service != ServiceOther && !p.takesOn(f, r.ComponentID, r.Service) {
		all = append(all, Doubt{DoubtOther, "service", fmt.Sprintf("%q is no work for this boat or part.", title)})
	}
	if r.Service == LayUp && f.Place.Freezes() {
		year := r.Day.Year()
		launch := f.Place.Launch.In(year)
		first := (f.Place.LayUp.In(year).Week() - civil.Week(layUpFirst)).Monday() - earliestMargin
		if launch != 0 && r.Day >= launch && r.Day < first {
			all = append(all, Doubt{DoubtTooEarly, "day", fmt.Sprintf("A winterization on %s, in the middle of the season, would count for the coming winter.", p.set.Format.Date(r.Day))})
		}
	}
	return all
}

// firstDay is the earliest day on which there can have been work on a part: its
// first day in use or its making, else the year before the boat's model year, as
// models are sold from the summer before. None if nothing is known.
func (f *Facts) firstDay(componentID string) civil.Day {
	var model civil.Day
	if f.Boat.Year > 0 {
		model = civil.Of(f.Boat.Year-1, 1, 1)
	}
	for i := range f.Components {
		if c := &f.Components[i]; c.ID == componentID {
			return cmp.Or(c.Made, min(cmp.Or(c.InService, model), cmp.Or(model, c.InService)))
		}
	}
	return model
}

// takesOn reports whether a service can be done on a part of the boat, or for ""
// on any. Season visits any boat takes; a part that is not the boat's is refused
// elsewhere.
func (p *Planner) takesOn(f *Facts, componentID, service string) bool {
	known := componentID == "" || componentID == f.Boat.ID || slices.ContainsFunc(f.Components, func(c Component) bool { return c.ID == componentID })
	if !known || service == LayUp || service == FitOut {
		return true
	}
	hull := Component{ID: f.Boat.ID, Kind: "hull"}
	if (componentID == "" || componentID == hull.ID) && p.Takes(&f.Boat, &hull, service) {
		return true
	}
	return slices.ContainsFunc(f.Components, func(c Component) bool {
		return (componentID == "" || componentID == c.ID) && p.Takes(&f.Boat, &c, service)
	})
}

// lateSpring is how many days after its last good day a spring commissioning is
// booked without a question: its owner may want a later week. Common practice, no
// source.
const lateSpring = 14

// DoubtBooking doubts the day of a season visit that comes after its last good
// day, while that is still ahead: a winterization after the freeze, a spring
// commissioning in the summer.
func (p *Planner) DoubtBooking(v *Visit, day, today civil.Day) []Doubt {
	last := v.Deadline
	if v.Kind == FitOut {
		last += lateSpring
	}
	if v.Kind == Extra || v.Deadline == 0 || v.Deadline < today || day <= last || v.NothingLeft() {
		return nil
	}
	return []Doubt{{DoubtTooLate, "day", fmt.Sprintf("%s is after the last good day, %s.", p.set.Format.Date(day), p.set.Format.Date(v.Deadline))}}
}
