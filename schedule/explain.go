package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// View turns a boat's stored plan into words. It uses the facts for names and
// the plan for days; it plans nothing anew.
func (p *Planner) View(f *Facts, plan *BoatPlan) BoatView {
	w := wording{p: p, f: f}
	v := BoatView{Boat: f.Boat, Place: f.Place}
	byVisit := make(map[string][]Line)
	for i := range plan.Items {
		it := &plan.Items[i]
		var visit *Visit
		if k := slices.IndexFunc(plan.Visits, func(v Visit) bool { return v.ID == it.VisitID }); k >= 0 && it.VisitID != "" {
			visit = &plan.Visits[k]
		}
		l := w.line(it, visit)
		if visit == nil {
			v.Loose = append(v.Loose, l)
		} else {
			byVisit[visit.ID] = append(byVisit[visit.ID], l)
		}
	}
	for i := range plan.Visits {
		visit := &plan.Visits[i]
		v.Visits = append(v.Visits, VisitView{
			Visit: *visit, Title: VisitTitle(visit.Kind), Why: w.visit(visit), Lines: byVisit[visit.ID],
		})
	}
	return v
}

// VisitTitle names a kind of visit for people.
func VisitTitle(kind string) string {
	switch kind {
	case LayUp:
		return "Winter lay-up"
	case FitOut:
		return "Spring fit-out"
	}
	return "Service visit"
}

// wording makes the sentences of one boat.
type wording struct {
	p *Planner
	f *Facts
}

func (w wording) line(it *DueItem, visit *Visit) Line {
	l := Line{Item: *it, Included: it.CoveredBy != ""}
	if id, ok := strings.CutPrefix(it.Rule, followUpPrefix); ok {
		w.followUp(&l, id)
	} else if r, ok := w.p.cat.Rule(it.Rule); ok {
		l.Title = r.Title
		l.Source = sources(r.Sources)
		l.Consequence, l.Cautions = r.Consequence, r.Cautions
		l.Why = join(w.since(it, r), w.limit(it, r), w.changed(it), w.planned(it, visit))
	} else {
		l.Title = it.Rule
		l.Why = "The rule for this is no longer in the catalogue; the next plan drops it."
	}
	if c := w.component(it.ComponentID); c != nil && w.hasSisters(c) {
		l.Title += " (" + c.Label + ")"
	}
	return l
}

func (w wording) followUp(l *Line, id string) {
	for i := range w.f.FollowUps {
		if fu := &w.f.FollowUps[i]; fu.ID == id {
			l.Title = fu.Title
			l.Source = "the shop's own finding"
			l.Why = fmt.Sprintf("Found on %s: %s. To be looked at again by %s.", fu.Raised.Long(), strings.TrimRight(fu.Finding, "."), fu.Due.Long())
		}
	}
}

// since says when it was last done, or what the count starts from.
func (w wording) since(it *DueItem, r *rules.Rule) string {
	switch {
	case it.LastDay != 0 && it.Basis != BasisSeason:
		s := "Last done " + it.LastDay.Long()
		if it.HasLastHours {
			s += " at " + it.LastHours.String() + " h"
		}
		if it.LastVia != "" {
			s += ", as part of the " + w.serviceName(it.LastVia)
		}
		switch it.LastBy {
		case ByElsewhere:
			s += ", elsewhere as we were told"
		case ByBeforeSale:
			s += ", before the sale"
		}
		return s + "."
	case it.StartsFrom == "in service":
		if c := w.component(it.ComponentID); c != nil {
			return "In service since " + c.InService.Long() + ", no record of it since."
		}
	case it.StartsFrom == "sold":
		return "Reconditioned before the sale on " + w.f.Boat.SoldOn.Long() + ", and counted from then."
	case it.Basis == BasisSeason && it.MissedLast && r.Season == LayUp:
		return "No lay-up is on record for last winter."
	case it.Basis == BasisSeason && it.MissedLast:
		return "No fit-out is on record for last spring."
	}
	return ""
}

// limit says what sets the day.
func (w wording) limit(it *DueItem, r *rules.Rule) string {
	switch it.Basis {
	case BasisDate:
		s := interval(it) + ": " + it.Due.Long()
		if it.HoursAt > 0 {
			s += fmt.Sprintf(", as the date comes before %s h", it.HoursAt)
		}
		return s + "."
	case BasisHours:
		if it.HoursLate == it.Due {
			return fmt.Sprintf("%s: the meter reached %s h by %s.", interval(it), it.HoursAt, it.Due.Long())
		}
		s := fmt.Sprintf("%s: the meter is likely to reach %s h about %s", interval(it), it.HoursAt, it.HoursMedian.Long())
		return s + fmt.Sprintf(" (an estimate; half of all cases lie between %s and %s), so it is due by %s to be in time.", it.Due.Long(), it.HoursLate.Long(), it.Due.Long())
	case BasisSeason:
		if r.Season == LayUp {
			return fmt.Sprintf("Boats at %s are laid up by %s%s.", w.f.Place.Name, it.Due.Long(), because(w.f.Place.Source))
		}
		return fmt.Sprintf("Boats at %s are launched by %s.", w.f.Place.Name, it.Due.Long())
	case BasisExpiry:
		if r.Expiry != nil && r.Expiry.From == "warranty" {
			return fmt.Sprintf("The engine warranty from the sale ends on %s; the check comes before that day.", it.ByDate.Long())
		}
		s := "Good until " + it.Due.Long()
		if r.Legal {
			s += "; after that day it no longer counts by law"
		}
		return s + "."
	case BasisOnce:
		return fmt.Sprintf("Once, %s: %s.", lower(interval(it)), it.Due.Long())
	case BasisUnknown:
		return "No record of it is on file and nothing to count from, so it is looked at on the next visit."
	}
	return ""
}

// changed says what was set for this boat or engine in place of the default.
func (w wording) changed(it *DueItem) string {
	var s []string
	if it.Overridden != "" && (it.Months > 0 || it.Hours > 0) {
		s = append(s, "The interval is this engine's own: "+strings.TrimRight(it.Overridden, ".")+".")
	}
	if it.Duty != 0 && it.Duty != 100 && (it.Months > 0 || it.Hours > 0) {
		s = append(s, fmt.Sprintf("Intervals are set to %d %% for how hard this one works.", it.Duty))
	}
	if it.ByCustomer {
		s = append(s, "The owner sees to this.")
	}
	return strings.Join(s, " ")
}

// inWinterBefore is the longest time, in days, from a due day in winter to the
// fit-out that ends that winter.
const inWinterBefore = 240

// planned says which visit carries it, and when.
func (w wording) planned(it *DueItem, v *Visit) string {
	switch {
	case v == nil:
		return ""
	case it.Basis == BasisSeason:
		return upperFirst(when(v)) + "."
	}
	with := "with " + map[string]string{LayUp: "the lay-up", FitOut: "the fit-out"}[v.Kind] + ", "
	if v.Kind == Extra {
		with = ""
	}
	late := v.day() > it.Close
	var s string
	switch {
	case it.InWinter && v.Kind == FitOut && v.day()-it.Due < inWinterBefore:
		s = "The boat is laid up then, so it is planned " + with + when(v)
		if late {
			s += ", before it is used again"
		}
	case late:
		s = "That is past, so it is planned for the first time the boat comes in, " + with + when(v)
	case it.InWinter && v.Kind == LayUp:
		s = "The boat is laid up then, so it is planned before, " + with + when(v)
	case v.Kind == Extra && len(v.Items) == 1:
		s = "It cannot wait for a season visit, so it is a visit of its own, " + when(v)
	case v.Kind == Extra:
		s = "It cannot wait for a season visit, so it shares an extra one, " + when(v)
	default:
		s = "It goes " + with + when(v)
	}
	if it.CoveredBy != "" {
		s += "; it is part of the " + w.serviceName(it.CoveredBy)
	}
	return s + "."
}

// when words the day or week of a visit.
func when(v *Visit) string {
	switch {
	case v.Booking != nil:
		s := "booked for " + v.Booking.Day.Weekday().String() + " " + v.Booking.Day.Long()
		if v.Booking.Minute >= 0 {
			s += fmt.Sprintf(" at %d:%02d", v.Booking.Minute/60, v.Booking.Minute%60)
		}
		return s
	case v.Week != 0:
		return "pencilled for the week of " + v.Week.Monday().Long()
	}
	return "about " + v.Day.Long()
}

// visit explains a visit's own time.
func (w wording) visit(v *Visit) string {
	s := upperFirst(when(v))
	switch {
	case v.Booking != nil:
		return s + "."
	case v.Lapsed:
		return s + ". The boat has not been in for more than a season and a half, so no hours are kept for it until the visit is booked."
	case v.Kind == LayUp:
		return fmt.Sprintf("%s, to be done by %s%s.", s, v.Deadline.Long(), because(w.f.Place.Source))
	case v.Kind == FitOut:
		return fmt.Sprintf("%s, so that the boat is ready by %s.", s, v.Deadline.Long())
	case v.Open == v.Close:
		return s + "."
	}
	return fmt.Sprintf("%s; anything from %s to %s would do.", s, v.Open.Long(), v.Close.Long())
}

func (w wording) component(id string) *Component {
	for i := range w.f.Components {
		if w.f.Components[i].ID == id {
			return &w.f.Components[i]
		}
	}
	return nil
}

// hasSisters reports whether the boat has more components of the kind, so that
// a line must say which one it means.
func (w wording) hasSisters(c *Component) bool {
	n := 0
	for i := range w.f.Components {
		if w.f.Components[i].Kind == c.Kind {
			n++
		}
	}
	return n > 1 && c.Label != ""
}

func (w wording) serviceName(code string) string { return lower(w.p.cat.ServiceTitle(code)) }

// interval words an interval: "Every 3 years or 300 h, whichever first".
func interval(it *DueItem) string {
	lead := "Every "
	if it.Basis == BasisOnce || (it.StartsFrom == "in service" && it.LastDay == 0) {
		lead = "After "
	}
	switch {
	case it.Months > 0 && it.Hours > 0:
		return lead + months(it.Months) + " or " + it.Hours.String() + " h, whichever first"
	case it.Hours > 0:
		return lead + it.Hours.String() + " h"
	case it.Months > 0:
		return lead + months(it.Months)
	}
	return "By " + it.Due.Long()
}

// months words a number of months, in years where it is whole years.
func months(n int) string {
	switch {
	case n == 12:
		return "12 months"
	case n%12 == 0:
		return fmt.Sprintf("%d years", n/12)
	case n == 1:
		return "month"
	}
	return fmt.Sprintf("%d months", n)
}

// sources joins a rule's sources into one line.
func sources(ss []rules.Source) string {
	var out []string
	for _, s := range ss {
		switch s.Kind {
		case "common-practice":
			out = append(out, cmp.Or(s.Text, "common practice, no source"))
		default:
			out = append(out, s.Text)
		}
	}
	return strings.Join(out, "; ")
}

func because(source string) string {
	if source == "" {
		return ""
	}
	return " (" + source + ")"
}

// join puts sentences together, leaving out those that say nothing.
func join(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// day is the day that the visit is shown for.
func (v *Visit) day() civil.Day {
	switch {
	case v.Booking != nil:
		return v.Booking.Day
	case v.Week != 0:
		return v.Week.Monday()
	}
	return v.Day
}

// Late tells by how many days a visit misses the limit of what it carries, 0
// if it does not.
func (v *Visit) Late() int { return max(0, int(v.day()-v.Deadline)) }

// SpanOn returns the days that the visit is shown on: the booked day, the
// pencilled week, or the day by itself while it has no week. Both ends are
// included.
func (v *Visit) SpanOn() (from, to civil.Day) {
	switch {
	case v.Booking != nil:
		return v.Booking.Day, v.Booking.Day
	case v.Week != 0:
		return v.Week.Monday(), v.Week.Sunday()
	}
	return v.Day, v.Day
}
