package notify

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/dustin/go-humanize"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// mailContent is what a mail says, before it is set as text or as HTML: both
// are made from it alone, so both say the same.
type mailContent struct {
	Language, Subject string
	Greeting          string
	Intro             []string
	Done              []mailLine
	DoneTitle         string
	Boats             []mailBoat
	NextTitle         string // above the boats, "" for none
	How               string
	Button            mailLink
	Calendar          mailLink
	Phone             string
	Sign              []string
	Small             []string
	Stop              mailLink
}

type mailLink struct{ Label, URL string }

type mailBoat struct {
	ID     string
	Name   string
	Visits []mailVisit
}

type mailVisit struct {
	Gutter, GutterDate string // in the margin: "Week of", "5 October 2026"
	Title              string
	Lead               []string
	Lines              []mailLine
	Cost               string
	CautionTitle       string
	Cautions           []string
}

type mailLine struct {
	Title, Note string // note: about what it costs, or why it costs nothing
	Why         string
	Matters     string
}

// composer makes the content of one notice.
type composer struct {
	t     *Texts
	shop  *ShopInfo
	links Links
	n     *Notice
}

// compose words a notice.
func compose(t *Texts, shop *ShopInfo, links Links, n *Notice) *mailContent {
	w := composer{t: t, shop: shop, links: links, n: n}
	c := &mailContent{
		Language: t.say("language"),
		Subject:  w.subject(),
		Greeting: t.say("greeting.plain"),
		Intro:    []string{t.say("intro." + w.tone())},
		Sign:     []string{t.say("closing.sign", "shop", shop.Name)},
		Small:    []string{t.say("closing.manual"), t.say("closing." + w.ground()), shop.Name + ", " + shop.Address},
		Stop:     mailLink{t.say("closing.stop"), links.Stop},
		Calendar: mailLink{t.say("answer.calendar"), links.Calendar},
	}
	if n.Customer.Name != "" {
		c.Greeting = t.say("greeting.named", "name", n.Customer.Name)
	}
	if !isReminder(n.Step) {
		c.Stop.Label = t.say("closing.stop_booking")
	}
	if shop.Phone != "" {
		c.Phone = t.say("answer.phone", "phone", shop.Phone)
	}
	w.answer(c)
	w.body(c)
	return c
}

// tone is the key of the notice's introduction.
func (w *composer) tone() string {
	if w.n.Step == schedule.StepConfirmation && w.n.Visits[0].Was.Day != 0 {
		return "moved"
	}
	return string(w.n.Step)
}

// ground is the key of the sentence on why the customer gets the mail.
func (w *composer) ground() string {
	if isReminder(w.n.Step) {
		return "reminder"
	}
	return "booking"
}

// isReminder reports whether a step's mails are of the kind that a customer
// may stop; those about a booked visit are its record.
func isReminder(s schedule.Step) bool {
	return s != schedule.StepConfirmation && s != schedule.StepBooked && s != schedule.StepCancellation
}

// answer says what to click.
func (w *composer) answer(c *mailContent) {
	key := "button"
	switch w.n.Step {
	case schedule.StepConfirmation, schedule.StepBooked:
		key, c.How = "booked_button", w.t.say("answer.booked_how")
	case schedule.StepHours:
		key = "hours_button"
	case schedule.StepWelcome, schedule.StepSummary:
		key = "plan_button"
	default:
		c.How = w.t.say("answer.how")
	}
	c.Button = mailLink{w.t.say("answer." + key), w.links.My}
}

// body fills in the boats.
func (w *composer) body(c *mailContent) {
	for i := range w.n.Visits {
		v := &w.n.Visits[i]
		w.boat(c, &v.Boat, w.visit(v))
	}
	for i := range w.n.Readings {
		w.boat(c, &w.n.Readings[i].Boat, w.reading(&w.n.Readings[i]))
	}
	for _, d := range w.n.Done {
		c.DoneTitle = w.t.say("work.done")
		c.Done = append(c.Done, mailLine{Title: d.Title, Why: d.Note})
	}
	for i := range w.n.Boats {
		w.plan(c, &w.n.Boats[i])
	}
}

// boat puts a visit under its boat's name.
func (w *composer) boat(c *mailContent, of *schedule.Boat, v mailVisit) {
	k := slices.IndexFunc(c.Boats, func(b mailBoat) bool { return b.ID == of.ID })
	if k < 0 {
		k, c.Boats = len(c.Boats), append(c.Boats, mailBoat{ID: of.ID, Name: of.Title()})
	}
	c.Boats[k].Visits = append(c.Boats[k].Visits, v)
}

// plan lays out a boat's visits to come, for a welcome or a summary.
func (w *composer) plan(c *mailContent, b *schedule.BoatView) {
	c.NextTitle = w.t.say("work.next")
	for i := range b.Visits {
		v := &NoticeVisit{Boat: b.Boat, Visit: b.Visits[i]}
		w.boat(c, &b.Boat, w.visit(v))
	}
	if len(b.Visits) == 0 {
		w.boat(c, &b.Boat, mailVisit{Title: w.t.say("work.none_next")})
	}
}

// visit words one visit.
func (w *composer) visit(v *NoticeVisit) mailVisit {
	m := mailVisit{Title: v.Visit.Title, Lead: []string{w.lead(v)}}
	m.Gutter, m.GutterDate = w.gutter(v)
	if v.NamedWeek != 0 && v.Step != "" {
		m.Lead = append(m.Lead, w.t.say("visit.renamed", "before", w.t.say("when.week", "date", w.t.day(v.NamedWeek.Monday()))))
	}
	if v.Step == schedule.StepCancellation {
		return m
	}
	for i := range v.Visit.Lines {
		m.Lines = append(m.Lines, w.line(&v.Visit.Lines[i], v.Step))
	}
	if p := v.Visit.Visit.Price; p > 0 {
		m.Cost = w.t.say("money.total", "amount", w.money(p))
	}
	if v.Step != "" {
		m.Cautions = w.cautions(v)
		m.CautionTitle = w.t.say("work.cautions")
	}
	return m
}

// lead is the sentence that says how the visit stands.
func (w *composer) lead(v *NoticeVisit) string {
	args := []string{"when", w.when(&v.Visit.Visit, true), "deadline", w.t.day(v.Visit.Visit.Deadline)}
	key := string(v.Step)
	switch {
	case v.Step == schedule.StepWarranty || (v.Warranty && v.Step != ""):
		key, args = "warranty", append(args, "ends", w.t.day(v.Boat.WarrantyUntil))
	case v.Step == schedule.StepConfirmation && v.Was.Day != 0:
		key, args = "moved", append(args, "before", w.t.appointment(v.Was, true))
	case v.Step == schedule.StepCancellation:
		args = append(args, "before", w.t.appointment(v.Was, true))
	case v.Step == "" && len(w.n.Boats) > 0 && v.Visit.Visit.Booked():
		key = "plan_booked"
	case v.Step == "" && len(w.n.Boats) > 0:
		key = "plan"
	case v.Step == "":
		key = "recalled"
	}
	return w.t.say("visit."+key, args...)
}

// when words the time of a visit, with or without the year.
func (w *composer) when(v *schedule.Visit, year bool) string {
	word := w.t.short
	if year {
		word = w.t.day
	}
	switch {
	case v.Booking != nil:
		return w.t.appointment(Appointment{v.Booking.Day, v.Booking.Minute}, year)
	case v.Week != 0:
		return w.t.say("when.week", "date", word(v.Week.Monday()))
	}
	return w.t.say("when.about", "date", word(v.Day))
}

// gutter is the margin of the log: the day by which the eye finds the entry.
func (w *composer) gutter(v *NoticeVisit) (label, date string) {
	visit := &v.Visit.Visit
	switch {
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
func (w *composer) line(l *schedule.Line, step schedule.Step) mailLine {
	m := mailLine{Title: l.Title, Why: l.Why}
	switch {
	case l.Item.ByCustomer:
		m.Note = w.t.say("work.by_customer")
	case l.Included:
		m.Note = w.t.say("work.included")
	case l.Item.Price > 0:
		m.Note = w.t.say("money.about", "amount", w.money(l.Item.Price))
	case l.Item.Basis == schedule.BasisUnknown:
		m.Note = w.t.say("money.quoted")
	}
	urgent := step == schedule.StepLastCall || step == schedule.StepOverdue
	if urgent && l.Consequence != "" && !l.Included {
		m.Matters = w.t.say("work.matters", "consequence", l.Consequence)
	}
	return m
}

// maxCautions keeps a mail readable; the work sheet carries them all.
const maxCautions = 4

// cautions are those of the season first, then those of the jobs, each once.
func (w *composer) cautions(v *NoticeVisit) []string {
	var all []string
	switch v.Visit.Visit.Kind {
	case schedule.LayUp, schedule.FitOut:
		all = append(all, w.t.say("caution."+v.Visit.Visit.Kind))
	}
	var ofWork []string
	for i := range v.Visit.Lines {
		for _, c := range v.Visit.Lines[i].Cautions {
			if !slices.Contains(ofWork, c) && len(all)+len(ofWork) < maxCautions-1 {
				ofWork = append(ofWork, c)
			}
		}
	}
	all = append(all, ofWork...)
	return append(all, w.t.say("work.leave_it"))
}

// reading words the request for a boat's meter.
func (w *composer) reading(m *MeterAsk) mailVisit {
	v := mailVisit{Title: w.t.say("answer.hours_button")}
	if len(m.Lines) > 0 {
		v.Gutter, v.GutterDate = w.t.say("when.gutter_about"), w.t.day(m.Lines[0].Item.Due)
	}
	for i := range m.Lines {
		v.Lines = append(v.Lines, mailLine{Title: m.Lines[i].Title, Why: m.Lines[i].Why})
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
	if open > 1 {
		return w.t.count("subject.several", open, "boats", w.t.list(names))
	}
	args := []string{"boat", w.t.list(names)}
	if len(w.n.Visits) > 0 {
		args = append(args, w.subjectOf(&w.n.Visits[0])...)
	}
	return oneLine(w.t.say("subject."+w.tone(), args...))
}

func (w *composer) subjectOf(v *NoticeVisit) []string {
	when := w.when(&v.Visit.Visit, false)
	if v.Step == schedule.StepCancellation {
		when = w.t.appointment(v.Was, false)
	}
	return []string{
		"visit", lowerFirst(v.Visit.Title), "when", when, "deadline", w.t.short(v.Visit.Visit.Deadline),
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
	return w.t.say("money.prefix", "symbol", symbol, "amount", humanize.Comma((int64(c)+50)/100))
}

func lowerFirst(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToLower(s[:n]) + s[n:]
}

// oneLine makes a header's worth of a text: names come from outside.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
