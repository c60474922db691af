package schedule

import (
	"strconv"

	"bellbuoy/schedule/civil"
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
		return w.t.Say("reasons.goes.not-in-spring", "ride", w.ride(it, v))
	case it.Basis == BasisSeason:
		return w.t.Say("reasons.time.plain", "when", w.whenFirst(v))
	}
	return w.t.Say("reasons.goes."+w.reason(it, v), "ride", w.ride(it, v))
}

// reason is the phrase that leads into the visit: why it is this one.
func (w wording) reason(it *DueItem, v *Visit) string {
	day := v.day()
	switch {
	case it.Basis == BasisUnknown, ridesOnly(it) && it.Season == 0:
		return "is"
	case v.Kind == Winter:
		return "cold"
	case it.Basis == BasisEvent && v.Kind == Extra:
		return "not-waiting"
	case it.CoveredBy != "" && day < it.Open:
		return "goes"
	case w.protects(it, v):
		return "protects"
	case it.InWinter && v.Kind == FitOut && day-it.Due < inWinterBefore:
		return "winterized"
	case day > it.Close && w.p.rule[it.Rule] != nil && len(w.p.rule[it.Rule].RideAlong) == 1:
		return "past-waits"
	case day > it.Close && v.Kind == Extra:
		return "past-soon"
	case day > it.Close:
		return "past-first"
	case it.InWinter && v.Kind == LayUp && day <= it.Due:
		return "winterized-before"
	case v.Kind == Extra && !w.f.Place.Freezes():
		return "service"
	case v.Kind == Extra && len(v.Items) == 1:
		return "own"
	case v.Kind == Extra:
		return "shared"
	}
	return "goes"
}

// protects reports whether an item goes with a lay-up sooner than its interval
// asks, for the winter's sake.
func (w wording) protects(it *DueItem, v *Visit) bool {
	r := w.p.rule[it.Rule]
	return r != nil && r.WithLayUp && v.Kind == LayUp && v.day() < it.Due-civil.Day(r.EarlyDays)
}

// ride names the visit and its day, and what includes it there.
func (w wording) ride(it *DueItem, v *Visit) string {
	part := ""
	switch {
	case it.CoveredBy == v.Kind:
		part = w.t.Say("reasons.ride.part-of-it")
	case it.CoveredBy != "":
		part = w.t.Say("reasons.ride.part-of", "service", w.serviceName(it.CoveredBy))
	case it.InWinter && v.Kind == FitOut && v.day() > it.Close && it.Basis != BasisUnknown:
		part = w.t.Say("reasons.ride.before-use")
	}
	switch {
	case v.Kind == Extra && (it.Basis == BasisUnknown || ridesOnly(it)):
		return w.t.Say("reasons.ride.the-service", "when", w.when(v), "part", part)
	case v.Kind == Extra && it.CoveredBy != "" && v.day() < it.Open:
		return w.t.Say("reasons.ride.with-service", "when", w.when(v), "part", part)
	case v.Kind != Extra:
		return w.t.Say("reasons.ride.with", "visit", w.theVisit(v.Kind), "when", w.when(v), "part", part)
	}
	return w.t.Say("reasons.ride.alone", "when", w.when(v), "part", part)
}

// theVisit names a season visit in the middle of a sentence.
func (w wording) theVisit(kind string) string {
	switch kind {
	case LayUp, Winter:
		return w.t.Say("reasons.the." + kind)
	}
	return w.t.Say("reasons.the.fit-out")
}

// serviceName names a service in the middle of a sentence. Titles are written
// for lists, so all but the season visits stand in quotes.
func (w wording) serviceName(code string) string {
	if code == LayUp || code == FitOut {
		return w.theVisit(code)
	}
	return w.t.Say("reasons.title.quoted", "title", w.p.cat.ServiceTitleIn(w.t.Language(), code))
}

// when words the day or week of a visit in the middle of a sentence.
func (w wording) when(v *Visit) string { return w.whenBy("reasons.when.", v) }

// whenFirst words it at the beginning of a sentence.
func (w wording) whenFirst(v *Visit) string { return w.whenBy("reasons.first.", v) }

func (w wording) whenBy(table string, v *Visit) string {
	switch {
	case v.Booking != nil && v.Booking.Minute >= 0:
		return w.t.Say(table+"booked-at", "day", w.in.WeekdayDate(v.Booking.Day), "clock", w.in.Clock(v.Booking.Minute))
	case v.Booking != nil:
		return w.t.Say(table+"booked", "day", w.in.WeekdayDate(v.Booking.Day))
	case v.Week != 0:
		return w.t.Say(table+"week", "date", w.date(v.Week.Monday()))
	}
	return w.t.Say(table+"about", "date", w.date(v.Day))
}

// visit explains a visit's own time.
func (w wording) visit(v *Visit) string {
	s := w.time(v)
	if v.Lapsed && v.Booking == nil {
		return w.t.Say("reasons.time.lapsed", "time", s)
	}
	return s
}

// time words when a visit comes and by when it should.
func (w wording) time(v *Visit) string {
	when := w.whenFirst(v)
	late := v.day() > v.Deadline
	season := func(key string) string {
		return w.t.Say(key, "when", when, "date", w.date(v.Deadline), "because", w.because(v))
	}
	switch {
	case v.NothingLeft():
		return w.t.Say("reasons.time.nothing-left", "when", when)
	case v.Booking != nil:
		return w.t.Say("reasons.time.plain", "when", when)
	case v.Kind == LayUp && late:
		return season("reasons.time.lay-up-late")
	case v.Kind == LayUp:
		return season("reasons.time.lay-up")
	case v.Kind == FitOut && late:
		return season("reasons.time.fit-out-late")
	case v.Kind == FitOut:
		return season("reasons.time.fit-out")
	case v.Deadline < v.Open:
		return w.t.Say("reasons.time.past", "when", when)
	case v.Open == v.Close:
		return w.t.Say("reasons.time.plain", "when", when)
	}
	return w.t.Say("reasons.time.window", "when", when, "from", w.date(v.Open), "to", w.date(v.Close))
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
		return w.t.Say("reasons.because.freeze", "freeze", w.freeze(pl.Freeze))
	case v.Deadline < season:
		return w.t.Say("reasons.because.carried")
	case v.Kind == LayUp && v.Deadline == season && pl.Source != "":
		return w.t.Say("reasons.because.source", "source", pl.Source)
	}
	return ""
}

// interval words an interval: "Every 3 years or 300 h, whichever first".
func (w wording) interval(it *DueItem) string {
	table, each := "reasons.interval.every", true
	if it.Basis == BasisOnce || (it.StartsFrom == "in service" && it.LastDay == 0) {
		table, each = "reasons.interval.after", false
	}
	s := ""
	switch {
	case it.Months > 0 && it.Hours > 0:
		s = w.t.Say(table+"-both", "span", w.months(it.Months, each), "hours", w.hours(it.Hours))
	case it.Hours > 0:
		s = w.t.Say(table+"-hours", "hours", w.hours(it.Hours))
	case it.Months > 0:
		s = w.t.Say(table, "span", w.months(it.Months, each))
	default:
		return w.t.Say("reasons.interval.by", "date", w.date(it.Due))
	}
	switch {
	case it.Duty == 0 || it.Duty == 100:
		return s
	case it.Duty < 100:
		return w.t.Say("reasons.interval.hard", "interval", s, "percent", strconv.Itoa(it.Duty))
	}
	return w.t.Say("reasons.interval.little", "interval", s, "percent", strconv.Itoa(it.Duty))
}

// months words a number of months, in years where it is two or more whole years;
// each as "every" has it.
func (w wording) months(n int, each bool) string {
	switch {
	case n == 1 && each:
		return w.t.Say("reasons.interval.every-month")
	case n%12 == 0 && n > 12:
		return w.t.Count("reasons.interval.years", n/12)
	}
	return w.t.Count("reasons.interval.months", n)
}
