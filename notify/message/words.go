package message

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// visit words one visit.
func (w *composer) visit(v *notify.NoticeVisit) visitEntry {
	m := visitEntry{Title: v.Visit.Title, Lead: []string{w.lead(v)}}
	m.Gutter, m.GutterDate = w.gutter(v)
	if v.NamedWeek != 0 && v.Step != "" {
		m.Lead = append(m.Lead, w.t.say("visit.renamed", "before", w.t.say("when.week", "date", w.t.day(v.NamedWeek.Monday()))))
	}
	if v.Step == schedule.StepCancellation || v.Step == schedule.StepPassedOn || (v.Step == "" && len(w.n.Boats) == 0) {
		return m // the work was told before
	}
	w.work(&m, v)
	if v.Step != "" {
		m.Cautions = w.cautions(v)
		m.CautionTitle = w.t.say("work.cautions")
	}
	return m
}

// work sets out a visit's jobs: the season's own first, those that cost
// something each with its reason, and in a sentence each those that another one
// includes and those that are only looked at. Twenty reasons are none.
func (w *composer) work(m *visitEntry, v *notify.NoticeVisit) {
	var included, unknown []string
	lines := slices.SortedStableFunc(slices.Values(v.Visit.Lines), func(a, b schedule.Line) int {
		return seasonFirst(&a) - seasonFirst(&b)
	})
	priced := 0
	for i := range lines {
		l := &lines[i]
		switch {
		case l.Included:
			included = append(included, words.LowerFirst(l.Title))
		case l.Item.Basis == schedule.BasisUnknown && !l.Item.ByCustomer && l.Item.Price == 0:
			unknown = append(unknown, words.LowerFirst(l.Title))
		default:
			m.Lines = append(m.Lines, w.line(l, v))
			if l.Item.Price > 0 {
				priced++
			}
		}
	}
	if len(included) > 0 {
		m.Also = append(m.Also, w.t.say("work.included", "jobs", w.jobs(included)))
	}
	if len(unknown) > 0 {
		m.Also = append(m.Also, w.t.count("work.unknown", len(unknown), "jobs", w.jobs(unknown)))
	}
	if p := v.Visit.Visit.Price; p > 0 && priced > 1 {
		m.Cost = w.t.say("money.total", "amount", w.money(p))
	}
}

// jobs joins titles, which have commas of their own.
func (w *composer) jobs(titles []string) string {
	s := titles[0]
	for _, t := range titles[1:] {
		s = w.t.say("join.jobs", "a", s, "b", t)
	}
	return s
}

func seasonFirst(l *schedule.Line) int {
	if l.Item.Basis == schedule.BasisSeason {
		return 0
	}
	return 1
}

// lead is the sentence that says how the visit stands.
func (w *composer) lead(v *notify.NoticeVisit) string {
	args := []string{"when", w.when(&v.Visit.Visit, true), "deadline", w.t.day(v.Visit.Visit.Deadline)}
	key := string(v.Step)
	switch {
	case v.Step == schedule.StepWarranty || (v.Warranty && v.Step != ""):
		key, args = "warranty", append(args, "ends", w.t.day(v.Boat.WarrantyUntil))
		if from, _ := v.Visit.Visit.SpanOn(); from > v.Boat.WarrantyUntil || w.past(v) || unheld(v) {
			key = "warranty_open"
		}
	case v.Step == schedule.StepOverdue && (w.past(v) || unheld(v)):
		key = "overdue_open"
	case v.Step == schedule.StepConfirmation && v.Was.Day != 0:
		key, args = "moved", append(args, "before", w.t.appointment(v.Was, true))
	case v.Step == schedule.StepCancellation, v.Step == schedule.StepPassedOn:
		args = append(args, "before", w.t.appointment(v.Was, true))
	case v.Step == "" && len(w.n.Boats) > 0 && v.Visit.Visit.Booked():
		key = "plan_booked"
	case v.Step == "" && len(w.n.Boats) > 0:
		key = "plan"
	case v.Step == "" && unheld(v):
		key = "mentioned_open"
	case v.Step == "":
		key = "mentioned"
	case asksForDay(v.Step) && unheld(v):
		key += "_open"
	}
	return w.t.say("visit."+key, args...)
}

// unheld reports whether no time in the shop is kept for a visit: the boat has
// not been in for long, or nothing is free.
func unheld(v *notify.NoticeVisit) bool { return !v.Visit.Visit.Booked() && v.Visit.Visit.Week == 0 }

// asksForDay reports whether a step's words differ for a visit that is unheld.
func asksForDay(s schedule.Step) bool {
	return s == schedule.StepInvitation || s == schedule.StepNudge || s == schedule.StepLastCall
}

// past reports whether the visit's planned time is over, so that naming it
// would help nobody.
func (w *composer) past(v *notify.NoticeVisit) bool {
	_, to := v.Visit.Visit.SpanOn()
	return to < civil.FromTime(w.n.At.In(w.shop.Zone))
}

// when words the time of a visit, with or without the year.
func (w *composer) when(v *schedule.Visit, year bool) string {
	word := w.t.short
	if year {
		word = w.t.day
	}
	switch {
	case v.Booking != nil:
		return w.t.appointment(notify.Appointment{Day: v.Booking.Day, Minute: v.Booking.Minute}, year)
	case v.Week != 0:
		return w.t.say("when.week", "date", word(v.Week.Monday()))
	}
	return w.t.say("when.about", "date", word(v.Day))
}

// gutter is the margin of the log: the day by which the eye finds the entry.
func (w *composer) gutter(v *notify.NoticeVisit) (label, date string) {
	visit := &v.Visit.Visit
	switch {
	case v.Step == schedule.StepPassedOn:
		return w.t.say("when.gutter_passed_on"), w.t.day(v.Was.Day)
	case v.Step == schedule.StepCancellation:
		return w.t.say("when.gutter_cancelled"), w.t.day(v.Was.Day)
	case visit.Booking != nil:
		return w.t.say("when.gutter_booked"), w.t.day(visit.Booking.Day)
	case v.Step == schedule.StepOverdue:
		return w.t.say("when.gutter_deadline"), w.t.day(visit.Deadline)
	case visit.Week != 0:
		return w.t.say("when.gutter_week"), w.t.day(visit.Week.Monday())
	}
	return w.t.say("when.gutter_about"), w.t.day(visit.Day)
}

// line words one job.
func (w *composer) line(l *schedule.Line, v *notify.NoticeVisit) jobLine {
	m := jobLine{Title: l.Title, Why: withoutWeek(l.Why, v.Visit.Visit.Week)}
	switch {
	case l.Item.ByCustomer:
		m.Note = w.t.say("work.by_customer")
	case l.Item.Price > 0:
		m.Note = w.t.say("money.about", "amount", w.money(l.Item.Price))
	}
	urgent := v.Step == schedule.StepLastCall || v.Step == schedule.StepOverdue
	if urgent && l.Consequence != "" {
		m.Matters = w.t.say("work.matters", "consequence", l.Consequence)
	}
	return m
}

// withoutWeek leaves out of a reason that its visit is pencilled for a week: the
// mail has said so above, and once is enough.
func withoutWeek(why string, week civil.Week) string {
	if week == 0 {
		return why
	}
	said := "encilled for the week of " + week.Monday().Long()
	why = strings.ReplaceAll(why, ", p"+said, "")
	return strings.TrimSpace(strings.ReplaceAll(why, "P"+said+".", ""))
}

// maxCautions are those of the jobs that a mail carries; the work sheet has
// them all.
const maxCautions = 2

// cautions are that of the season, then the first of the jobs that cost
// something or that the customer does himself.
func (w *composer) cautions(v *notify.NoticeVisit) []string {
	var all, ofWork []string
	switch kind := v.Visit.Visit.Kind; {
	case kind == schedule.LayUp, kind == schedule.FitOut && !v.Visit.NoGasoline:
		all = append(all, w.t.say("caution."+kind))
	}
	for i := range v.Visit.Lines {
		l := &v.Visit.Lines[i]
		if l.Included || (l.Item.Price == 0 && !l.Item.ByCustomer) {
			continue
		}
		for _, c := range l.Cautions {
			// That the maker's manual comes first stands below every mail.
			known := strings.Contains(c, w.t.say("caution.maker")) || slices.Contains(ofWork, c)
			if !known && len(ofWork) < maxCautions {
				ofWork = append(ofWork, c)
			}
		}
	}
	return append(append(all, ofWork...), w.t.say("work.leave_it"))
}

// reading words the request for a boat's meter.
func (w *composer) reading(m *notify.MeterAsk) visitEntry {
	v := visitEntry{Title: w.t.say("work.meter")}
	if len(m.Lines) > 0 {
		v.Gutter, v.GutterDate = w.t.say("when.gutter_about"), w.t.day(m.Lines[0].Item.Due)
	}
	for i := range m.Lines {
		v.Lines = append(v.Lines, jobLine{Title: m.Lines[i].Title, Why: m.Lines[i].Why})
	}
	return v
}

// subject says the thing.
func (w *composer) subject() string {
	var names []string
	open := 0
	add := func(b *schedule.Boat) {
		if !slices.Contains(names, b.Title()) {
			names = append(names, b.Title())
		}
	}
	for i := range w.n.Visits {
		if w.n.Visits[i].Step != "" {
			open++
			add(&w.n.Visits[i].Boat)
		}
	}
	for i := range w.n.Readings {
		add(&w.n.Readings[i].Boat)
	}
	for i := range w.n.Boats {
		add(&w.n.Boats[i].Boat)
	}
	if open > 1 && w.n.Step != schedule.StepPassedOn {
		return words.OneLine(w.t.count("subject.several", open, "boats", w.t.list(names)))
	}
	args := []string{"boat", w.t.list(names)}
	if len(w.n.Visits) > 0 {
		args = append(args, w.subjectOf(&w.n.Visits[0])...)
	}
	key := w.tone()
	if w.nothingHeld() && w.n.Step != schedule.StepLastCall {
		key += "_open"
	}
	return words.OneLine(w.t.say("subject."+key, args...))
}

func (w *composer) subjectOf(v *notify.NoticeVisit) []string {
	when := w.when(&v.Visit.Visit, false)
	if v.Step == schedule.StepCancellation {
		when = w.t.appointment(v.Was, false)
	}
	return []string{
		"visit", words.LowerFirst(v.Visit.Title), "when", when, "deadline", w.t.short(v.Visit.Visit.Deadline),
		"ends", w.t.short(cmp.Or(v.Boat.WarrantyUntil, civil.Day(1))),
	}
}

// money words an amount in whole units of the shop's currency: a price that is
// an estimate has no cents.
func (w *composer) money(c schedule.Cents) string {
	symbol := w.shop.Currency
	if utf8.RuneCountInString(symbol) > 1 {
		symbol += " "
	}
	return w.t.say("money.prefix", "symbol", symbol, "amount", words.WholeMoney("", c))
}
