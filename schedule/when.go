package schedule

import (
	"fmt"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// inWinterBefore is the longest time, in days, from a due day in winter to the
// fit-out that ends that winter.
const inWinterBefore = 240

// planned says which visit carries it, and when.
func (w wording) planned(it *DueItem, v *Visit) string {
	switch {
	case v == nil:
		return ""
	case it.Basis == BasisSeason && v.Season == it.Season && v.Kind == LayUp && w.p.rule[it.Rule] != nil && w.p.rule[it.Rule].Season == FitOut:
		return "It was not done in spring and is a matter of safety or law, so it goes " + w.ride(it, v) + "."
	case it.Basis == BasisSeason:
		return w.whenFirst(v) + "."
	}
	return w.reason(it, v) + w.ride(it, v) + "."
}

// reason leads into the visit: why it is this one.
func (w wording) reason(it *DueItem, v *Visit) string {
	day := v.day()
	switch {
	case it.Basis == BasisUnknown, ridesOnly(it) && it.Season == 0:
		return "That is "
	case v.Kind == Winter:
		return "It can be done cold, while the boat is in our storage and the owner agrees, so it goes "
	case it.Basis == BasisEvent && v.Kind == Extra:
		return "It does not wait for a season visit: it is planned "
	case it.CoveredBy != "" && day < it.Open:
		return "It goes "
	case w.protects(it, v):
		return "Used oil and lube are not left in over the winter, so it is done before the winter, "
	case it.InWinter && v.Kind == FitOut && day-it.Due < inWinterBefore:
		return "The boat is winterized then, so it is planned "
	case day > it.Close && w.p.rule[it.Rule] != nil && len(w.p.rule[it.Rule].RideAlong) == 1:
		return "That is past, and it is work for this visit, so it waits for it: it is planned "
	case day > it.Close && v.Kind == Extra:
		return "That is past, so it is planned for a visit soon, "
	case day > it.Close:
		return "That is past, so it is planned for the first time the boat comes in, "
	case it.InWinter && v.Kind == LayUp && day <= it.Due:
		return "The boat is winterized then, so it is planned before, "
	case v.Kind == Extra && !w.f.Place.Freezes():
		return "It is planned for a service visit, "
	case v.Kind == Extra && len(v.Items) == 1:
		return "No season visit falls into its time, so it is a visit of its own, "
	case v.Kind == Extra:
		return "No season visit falls into its time, so it shares a service visit, "
	}
	return "It goes "
}

// protects reports whether an item goes with a lay-up sooner than its interval
// asks, for the winter's sake.
func (w wording) protects(it *DueItem, v *Visit) bool {
	r := w.p.rule[it.Rule]
	return r != nil && r.WithLayUp && v.Kind == LayUp && v.day() < it.Due-civil.Day(r.EarlyDays)
}

// ride names the visit and its day, and what includes it there.
func (w wording) ride(it *DueItem, v *Visit) string {
	s := ""
	switch {
	case v.Kind == Extra && (it.Basis == BasisUnknown || ridesOnly(it)):
		s = "the service visit "
	case v.Kind == Extra && it.CoveredBy != "" && v.day() < it.Open:
		s = "with the service visit, "
	case v.Kind != Extra:
		s = "with " + theVisit(v.Kind) + ", "
	}
	s += w.when(v)
	switch {
	case it.CoveredBy == v.Kind:
		s += ", as part of it"
	case it.CoveredBy != "":
		s += ", as part of " + w.serviceName(it.CoveredBy)
	case it.InWinter && v.Kind == FitOut && v.day() > it.Close && it.Basis != BasisUnknown:
		s += ", before the boat is used again"
	}
	return s
}

// theVisit names a season visit in the middle of a sentence.
func theVisit(kind string) string {
	switch kind {
	case LayUp:
		return "the winterization"
	case Winter:
		return "the winter work"
	}
	return "the spring commissioning"
}

// serviceName names a service in the middle of a sentence. Titles are written
// for lists, so all but the season visits stand in quotes.
func (w wording) serviceName(code string) string {
	if code == LayUp || code == FitOut {
		return theVisit(code)
	}
	return `"` + w.p.cat.ServiceTitle(code) + `"`
}

// when words the day or week of a visit.
func (w wording) when(v *Visit) string {
	switch {
	case v.Booking != nil:
		s := "booked for " + w.p.set.Format.WeekdayDate(v.Booking.Day)
		if v.Booking.Minute >= 0 {
			s += " at " + w.p.set.Format.Clock(v.Booking.Minute)
		}
		return s
	case v.Week != 0:
		return "in the week of " + w.date(v.Week.Monday())
	}
	return "about " + w.date(v.Day)
}

// whenFirst words it at the beginning of a sentence.
func (w wording) whenFirst(v *Visit) string {
	if v.Booking == nil && v.Week != 0 {
		return "Planned for the week of " + w.date(v.Week.Monday())
	}
	return words.UpperFirst(w.when(v))
}

// visit explains a visit's own time.
func (w wording) visit(v *Visit) string {
	s := w.time(v)
	if v.Lapsed && v.Booking == nil {
		s += " Nobody has been in touch about the boat for more than a year, so no shop hours are held for it until a day is booked."
	}
	return s
}

// time words when a visit comes and by when it should.
func (w wording) time(v *Visit) string {
	s := w.whenFirst(v)
	switch {
	case v.Booking != nil:
		return s + "."
	case v.Kind == LayUp && v.day() > v.Deadline:
		return fmt.Sprintf("%s; it should have been done by %s%s.", s, w.date(v.Deadline), w.because(v))
	case v.Kind == LayUp:
		return fmt.Sprintf("%s, to be done by %s%s.", s, w.date(v.Deadline), w.because(v))
	case v.Kind == FitOut && v.day() > v.Deadline:
		return fmt.Sprintf("%s; the boat should have been ready by %s%s.", s, w.date(v.Deadline), w.because(v))
	case v.Kind == FitOut:
		return fmt.Sprintf("%s, so that the boat is ready by %s%s.", s, w.date(v.Deadline), w.because(v))
	case v.Deadline < v.Open:
		return s + "; part of it is past its time, so the sooner the better."
	case v.Open == v.Close:
		return s + "."
	}
	return fmt.Sprintf("%s; anything from %s to %s would do.", s, w.date(v.Open), w.date(v.Close))
}

// because says what sets a season visit's last day: the season, with where that
// is from, or something that the visit carries.
func (w wording) because(v *Visit) string {
	pl := &w.f.Place
	season := pl.LayUpDay(v.Season)
	if v.Kind == FitOut {
		season = pl.LaunchDay(v.Season)
	}
	switch {
	case v.Kind == LayUp && pl.Freeze.brought(v.Deadline):
		return " (" + pl.Freeze.Words(w.p.set.Format) + " by the forecast)"
	case v.Deadline < season:
		return ", the last day for something that it carries"
	case v.Kind == LayUp && v.Deadline == season && pl.Source != "":
		return " (" + pl.Source + ")"
	}
	return ""
}

// interval words an interval: "Every 3 years or 300 h, whichever first".
func (w wording) interval(it *DueItem) string {
	lead := "Every "
	if it.Basis == BasisOnce || (it.StartsFrom == "in service" && it.LastDay == 0) {
		lead = "After "
	}
	s := ""
	switch {
	case it.Months > 0 && it.Hours > 0:
		s = lead + months(it.Months) + " or " + w.hours(it.Hours) + ", whichever first"
	case it.Hours > 0:
		s = lead + w.hours(it.Hours)
	case it.Months > 0:
		s = lead + months(it.Months)
	default:
		return "By " + w.date(it.Due)
	}
	switch {
	case it.Duty == 0 || it.Duty == 100:
		return s
	case it.Duty < 100:
		return s + fmt.Sprintf(" (%d%% of the usual, as it works hard)", it.Duty)
	}
	return s + fmt.Sprintf(" (%d%% of the usual, as it works little)", it.Duty)
}

// months words a number of months, in years where it is whole years.
func months(n int) string {
	switch {
	case n == 12:
		return "12 months"
	case n%12 == 0:
		return fmt.Sprintf("%d years", n/12)
	case n == 1:
		return "1 month"
	}
	return fmt.Sprintf("%d months", n)
}
