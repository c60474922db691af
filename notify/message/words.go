package message

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// row words one visit.
func (w *composer) row(v *notify.NoticeVisit) row {
	visit := &v.Visit.Visit
	r := row{Boat: v.Boat.Title(), Title: v.Visit.Title}
	if visit.Price > 0 && v.Step != schedule.StepCancellation && v.Step != schedule.StepPassedOn {
		key := "money.row"
		if v.Visit.QuotedFirst {
			key = "money.row_quoted"
		}
		r.Title = w.t.Say(key, "visit", v.Visit.Title, "amount", w.money(visit.Price))
	}
	r.Gutter, r.GutterDate = w.gutter(v)
	r.Facts = w.rowFacts(v)
	return r
}

// rowFacts say how a visit stands, by when it is to be done and how long it
// takes.
func (w *composer) rowFacts(v *notify.NoticeVisit) []string {
	visit := &v.Visit.Visit
	switch v.Step {
	case schedule.StepPassedOn:
		return nil
	case schedule.StepCancellation:
		return []string{w.t.Say("visit.cancelled")}
	}
	if visit.Booked() {
		return append(w.bookedFacts(v), w.length(visit))
	}
	var facts []string
	switch {
	case w.past(v):
		facts = append(facts, w.t.Say("visit.unbooked"))
	case unheld(v):
		facts = append(facts, w.t.Say("visit.open"))
	case len(w.n.Boats) > 0:
		facts = append(facts, w.t.Say("visit.planned"))
	default:
		facts = append(facts, w.t.Say("visit.penciled"))
	}
	if v.NamedWeek != 0 && v.Step != "" {
		facts = append(facts, w.t.Say("visit.renamed", "date", w.day(v.NamedWeek.Monday())))
	}
	switch {
	case v.Warranty || v.Step == schedule.StepWarranty:
		facts = append(facts, w.t.Say("visit.warranty", "ends", w.day(v.Boat.WarrantyUntil)))
	case w.past(v) || visit.Deadline == 0: // the margin says it
	case w.late(v):
		facts = append(facts, w.t.Say("visit.late", "deadline", w.day(visit.Deadline)))
	default:
		facts = append(facts, w.t.Say("visit.deadline", "deadline", w.day(visit.Deadline)))
	}
	return append(facts, w.length(visit))
}

// bookedFacts say when a booked visit is, and when it was before.
func (w *composer) bookedFacts(v *notify.NoticeVisit) []string {
	var facts []string
	b := v.Visit.Visit.Booking
	if b.Minute >= 0 {
		facts = append(facts, w.format.Clock(b.Minute))
	}
	facts = append(facts, w.t.Say("visit.booked"))
	switch {
	case v.Was.Day == 0, v.Was.Day == b.Day && v.Was.Minute < 0:
	case v.Was.Day == b.Day:
		facts = append(facts, w.t.Say("visit.moved", "before", w.format.Clock(v.Was.Minute)))
	default:
		facts = append(facts, w.t.Say("visit.moved", "before", w.appointment(v.Was)))
	}
	return facts
}

// length says about how long the work takes: the shop's own hours, to the next
// hour, and days from six hours on, as a day with us is more than its work.
func (w *composer) length(v *schedule.Visit) string {
	const fullDay, workday = 6 * 60, 8 * 60
	if v.Labour >= fullDay {
		return w.t.Count("visit.days", (v.Labour+workday-1)/workday)
	}
	return w.t.Count("visit.hours", max(1, (v.Labour+59)/60))
}

// gutter is the margin of the log: the day by which the eye finds the entry.
func (w *composer) gutter(v *notify.NoticeVisit) (label, date string) {
	visit := &v.Visit.Visit
	switch {
	case v.Step == schedule.StepPassedOn, v.Step == schedule.StepCancellation:
		return w.format.ShortWeekday(v.Was.Day), w.day(v.Was.Day)
	case visit.Booking != nil:
		return w.format.ShortWeekday(visit.Booking.Day), w.day(visit.Booking.Day)
	case w.past(v) && visit.Deadline >= w.today:
		return w.t.Say("when.gutter_by"), w.day(visit.Deadline)
	case w.past(v):
		return w.t.Say("when.gutter_deadline"), w.day(cmp.Or(visit.Deadline, visit.Day))
	case visit.Week != 0:
		return w.t.Say("when.gutter_week"), w.day(visit.Week.Monday())
	}
	return w.t.Say("when.gutter_about"), w.day(visit.Day)
}

// unheld reports whether no time in the shop is kept for a visit: the boat has
// not been in for long, or nothing is free.
func unheld(v *notify.NoticeVisit) bool { return !v.Visit.Visit.Booked() && v.Visit.Visit.Week == 0 }

// past reports whether the visit's planned time is over, so that naming it
// would help nobody.
func (w *composer) past(v *notify.NoticeVisit) bool {
	_, to := v.Visit.Visit.SpanOn()
	return to < w.today
}

// day words a day, with its year if that is not the mail's.
func (w *composer) day(d civil.Day) string {
	if year, _, _ := d.Date(); year == w.n.At.In(w.shop.Zone).Year() {
		return w.format.ShortMonthDay(d)
	}
	return w.format.Date(d)
}

// appointment words a booked day, with its hour if it has one.
func (w *composer) appointment(a notify.Appointment) string {
	s := w.format.On(w.format.ShortWeekday(a.Day), w.day(a.Day))
	if a.Minute >= 0 {
		s = w.t.Say("date.at", "date", s, "clock", w.format.Clock(a.Minute))
	}
	return s
}

// dayOf words the booked day that a notice is about.
func (w *composer) dayOf(v *notify.NoticeVisit) string {
	day := v.Was.Day
	if v.Visit.Visit.Booked() {
		day = v.Visit.Visit.Booking.Day
	}
	return w.appointment(notify.Appointment{Day: day, Minute: -1})
}

// when words the time of a visit for a subject.
func (w *composer) when(v *schedule.Visit) string {
	switch {
	case v.Booking != nil:
		return w.appointment(notify.Appointment{Day: v.Booking.Day, Minute: v.Booking.Minute})
	case v.Week != 0:
		return w.t.Say("when.week", "date", w.day(v.Week.Monday()))
	}
	return w.t.Say("when.about", "date", w.day(v.Day))
}

// mostJobs is how many jobs a mail names. The others are counted, and stand on
// the customer's page with their reasons.
const mostJobs = 4

// jobs names the first jobs of a first reminder: of one boat a line each, of
// several boats a line for each boat.
func (w *composer) jobs() []string {
	var told []*notify.NoticeVisit
	for i := range w.n.Visits {
		if v := &w.n.Visits[i]; v.Step != "" && (v.First && isVisitReminder(v.Step) || v.Step == schedule.StepConfirmation && v.Was.Day == 0) {
			told = append(told, v)
		}
	}
	switch {
	case len(told) == 1 && len(w.n.Visits) == 1:
		return w.jobsOf(told[0], mostJobs)
	case len(told) > mostJobs+1:
		return nil
	}
	var lines []string
	for _, v := range told {
		if named := w.jobsOf(v, 2); len(named) > 0 {
			lines = append(lines, w.t.Say("work.of_boat", "boat", v.Boat.Title(), "jobs", w.joined(named)))
		}
	}
	return lines
}

// jobsOf names the first jobs of a visit: the season's own, then what the law or
// somebody's safety asks for, then what costs most.
func (w *composer) jobsOf(v *notify.NoticeVisit, most int) []string {
	lines := slices.SortedStableFunc(slices.Values(v.Visit.Lines), func(a, b schedule.Line) int {
		return cmp.Or(jobRank(&a)-jobRank(&b), cmp.Compare(b.Item.Price, a.Item.Price))
	})
	// The row above says what the visit is called for.
	lines = slices.DeleteFunc(lines, func(l schedule.Line) bool { return strings.EqualFold(l.Title, v.Visit.Title) })
	var named []string
	reasons := most / mostJobs // one; of several boats in one email the names alone
	for i := range lines[:min(most, len(lines))] {
		name := lines[i].Title
		if why := w.reason(&lines[i].Item); why != "" && reasons > 0 && !lines[i].Included {
			name, reasons = w.t.Say("reason.of", "job", name, "why", why), reasons-1
		}
		named = append(named, name)
	}
	if more := len(lines) - len(named); more > 0 {
		named = append(named, w.t.Count("work.more", more))
	}
	return named
}

// reason says in a few words why a job falls due, "" where its name says it or it
// takes a sentence.
func (w *composer) reason(it *schedule.DueItem) string {
	switch {
	case it.Basis == schedule.BasisDate && it.LastDay != 0 && it.Months > 0:
		return w.t.Say("reason.date", "date", w.day(it.LastDay), "interval", w.interval(it.Months))
	case it.Basis == schedule.BasisHours && it.HoursMedian != 0:
		return w.t.Say("reason.hours", "hours", w.format.Hours(it.Hours), "date", w.day(it.HoursMedian))
	case it.Basis == schedule.BasisExpiry:
		return w.t.Say("reason.expiry", "date", w.day(it.Due))
	}
	return ""
}

// interval words so many months: in years where it comes out even.
func (w *composer) interval(months int) string {
	if months%12 == 0 {
		return w.t.Count("reason.years", months/12)
	}
	return w.t.Count("reason.months", months)
}

func jobRank(l *schedule.Line) int {
	switch {
	case l.Item.Basis == schedule.BasisSeason:
		return 0
	case l.Guarded && !l.Included:
		return 1
	case !l.Included && l.Item.Price > 0:
		return 2
	}
	return 3
}

// cut leaves the first of many titles, and counts the others.
func (w *composer) cut(titles []string) []string {
	if len(titles) <= mostJobs+1 {
		return titles
	}
	return append(slices.Clone(titles[:mostJobs]), w.t.Say("work.rest", "n", strconv.Itoa(len(titles)-mostJobs)))
}

// joined joins titles, which have commas of their own.
func (w *composer) joined(titles []string) string {
	s := titles[0]
	for _, t := range titles[1:] {
		s = w.t.Say("join.jobs", "a", s, "b", words.LowerFirst(t))
	}
	return s
}

// why says below the button what the visits are for: that of a season once, and
// of a final reminder or an overdue visit what happens if it is missed.
func (w *composer) why() []string {
	var all []string
	add := func(s string) {
		if s != "" && !slices.Contains(all, s) {
			all = append(all, s)
		}
	}
	for i := range w.n.Visits {
		v := &w.n.Visits[i]
		if !isVisitReminder(v.Step) && v.Step != schedule.StepConfirmation && v.Step != schedule.StepBooked {
			continue
		}
		if v.Visit.Visit.Kind == schedule.LayUp && v.Boat.Berth != "shop-heated" {
			add(w.t.Say("why.lay-up"))
		} else if l := firstJob(v); l != nil && v.Step == schedule.StepLastCall && !v.First && len(all) == 0 {
			add(l.Consequence)
		}
	}
	return all
}

// firstJob is the job that a visit is named for, nil if it has none.
func firstJob(v *notify.NoticeVisit) *schedule.Line {
	var first *schedule.Line
	for i := range v.Visit.Lines {
		if l := &v.Visit.Lines[i]; first == nil || jobRank(l) < jobRank(first) {
			first = l
		}
	}
	return first
}

// mostSafety is how many cautions a mail carries, that about the freeze among them;
// the page has the others.
const mostSafety = 2

// safety is what the reader of a mail must mind for somebody's life: before a
// launch that of the season, then those of the jobs that a first email names. What
// a technician must mind stands on the work sheet.
func (w *composer) safety() []string {
	var all []string
	most := mostSafety
	if slices.Contains(w.why(), w.t.Say("why.lay-up")) {
		most--
	}
	add := func(s string) {
		if len(all) < most && !slices.Contains(all, s) {
			all = append(all, s)
		}
	}
	launch, winter := w.t.Say("caution.fit-out"), w.t.Say("caution.lay-up")
	for i := range w.n.Visits {
		if v := &w.n.Visits[i]; v.Visit.Visit.Kind == schedule.FitOut && !v.Visit.NoGasoline && v.Step != "" && isReminder(v.Step) {
			add(launch)
		}
	}
	for i := range w.n.Visits {
		if v := &w.n.Visits[i]; v.Visit.Visit.Kind == schedule.LayUp && v.First && isVisitReminder(v.Step) {
			add(winter)
		}
	}
	for i := range w.n.Visits {
		v := &w.n.Visits[i]
		if !v.First || !isVisitReminder(v.Step) {
			continue
		}
		for _, c := range schedule.OwnerCautions(v.Visit.Lines, 0) {
			// The season's says the same of the blower, and of carbon monoxide.
			said := slices.Contains(all, launch) && w.names(c, "caution.same.fit-out") || slices.Contains(all, winter) && w.names(c, "caution.same.lay-up")
			if !said {
				add(c)
			}
		}
	}
	return all
}

// names reports whether a caution has one of the words of a phrase, between which
// stand semicolons.
func (w *composer) names(caution, key string) bool {
	return slices.ContainsFunc(strings.Split(w.t.Say(key), "; "), func(s string) bool { return s != "" && strings.Contains(caution, s) })
}

// charge says what the owner does with the batteries that stay with him.
func (w *composer) charge(d *notify.DoneWork) string {
	key := "work.charge"
	if d.ColdCare {
		key = "work.charge_cold"
	}
	return w.t.Say(key, "days", strconv.Itoa(d.ChargeDays))
}

// askedFor names the jobs that wait for a meter's figure, each once.
func (w *composer) askedFor() string {
	var titles []string
	for i := range w.n.Readings {
		for j := range w.n.Readings[i].Lines {
			if t := words.LowerFirst(w.n.Readings[i].Lines[j].Title); !slices.Contains(titles, t) && len(titles) < 2 {
				titles = append(titles, t)
			}
		}
	}
	if len(titles) == 0 {
		return ""
	}
	return w.joined(titles)
}

// boatNames are the boats that the notice is about, each once.
func (w *composer) boatNames() []string {
	var names []string
	add := func(b *schedule.Boat) {
		if !slices.Contains(names, b.Title()) {
			names = append(names, b.Title())
		}
	}
	for i := range w.n.Visits {
		if w.n.Visits[i].Step != "" {
			add(&w.n.Visits[i].Boat)
		}
	}
	for i := range w.n.Readings {
		add(&w.n.Readings[i].Boat)
	}
	for i := range w.n.Renewals {
		add(&w.n.Renewals[i].Boat)
	}
	for i := range w.n.Boats {
		add(&w.n.Boats[i].Boat)
	}
	if w.n.Corrects.Day != 0 {
		add(&w.n.Corrects.Boat)
	}
	return names
}

// subject says the thing.
func (w *composer) subject() string {
	open := 0
	for i := range w.n.Visits {
		if w.n.Visits[i].Step != "" {
			open++
		}
	}
	args := []string{"boat", w.t.List(w.boatNames())}
	if len(w.n.Renewals) > 0 {
		args = append(args, "date", w.day(w.n.Renewals[0].Line.Item.Due))
	}
	key := w.tone()
	if v := w.leading(); v != nil {
		when := w.when(&v.Visit.Visit)
		if v.Step == schedule.StepCancellation {
			when = w.appointment(v.Was)
		}
		args = append(args, "visit", words.LowerFirst(v.Visit.Title), "when", when, "deadline", w.day(v.Visit.Visit.Deadline),
			"ends", w.day(cmp.Or(v.Boat.WarrantyUntil, civil.Day(1))))
	}
	switch {
	case open > 1 && isReminder(w.n.Step):
		return words.OneLine(w.t.Count("subject.several", open, "boats", w.t.List(w.boatNames())))
	case open > 1 && w.n.Step != schedule.StepPassedOn:
		key = string(w.n.Step) + "_several"
		args = append(args, "date", w.dayOf(w.leading()))
	case w.leading() != nil && unheld(w.leading()) && (key == "first" || key == string(schedule.StepNudge)):
		key += "_open"
	case w.n.Step == schedule.StepCancellation:
		key = string(w.n.Step)
	}
	return words.OneLine(w.t.Say("subject."+key, args...))
}

// money words an amount in whole units of the shop's currency: a price that is
// an estimate has no cents.
func (w *composer) money(c schedule.Cents) string { return w.format.WholeMoney(c) }
