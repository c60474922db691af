package message

import (
	"html/template"
	"slices"
	"strings"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// content is what a mail says, before it is set as text or as HTML: both
// are made from it alone, so both say the same. What it is about and the button
// come first and fit on a phone's first screen; reasons and all the jobs are on
// the customer's page.
type content struct {
	Language, Subject string
	Colon             string // behind a label
	Heading           string // of a report, "" for none
	Greeting          string // "" for none
	Intro             []string
	DoneTitle         string
	Done              []string
	NextTitle         string // above the rows, "" for none
	Rows              []row
	Sections          []Section
	Button            Hyperlink
	Why               []string // sentences below the button
	Jobs              []string
	Facts             []fact // where, when, how
	Safety            []string
	More              Hyperlink
	Call              fact
	Sign              []string
	Small             []string
	Stop              Hyperlink
}

// Hyperlink is a link with what it says.
type Hyperlink struct{ Label, URL string }

// row is one visit as a line of the log.
type row struct {
	Gutter, GutterDate string // in the margin: "Week of", "Oct 5"
	Boat               string
	Title              string   // with about what it costs
	Facts              []string // how it stands, by when, how long
}

// fact is a short label with what it says, as a link if there is one.
type fact struct {
	Label, Text string
	URL         template.URL
}

// composer makes the content of one notice.
type composer struct {
	t     *texts.Texts
	shop  *Shop
	links Links
	n     *notify.Notice
	today civil.Day

	format words.Format // in the language of the texts
}

// compose words a notice.
func compose(t *texts.Texts, shop *Shop, links Links, n *notify.Notice) *content {
	w := composer{t: t, shop: shop, links: links, n: n, today: civil.FromTime(n.At.In(shop.Zone)), format: shop.Format.In(t.Language())}
	why, stop := t.Say("closing.reminder"), t.Say("closing.stop") // why the customer gets the mail
	switch {
	case n.Step == schedule.StepNewAddress:
		why, stop = t.Say("closing.address"), t.Say("closing.stop_booking")
	case n.Step == schedule.StepNewLink:
		why, stop = t.Say("closing.link"), t.Say("closing.stop_booking")
	case !isReminder(n.Step):
		why, stop = t.Say("closing.booking"), t.Say("closing.stop_booking")
	}
	c := &content{
		Language: t.Language(),
		Colon:    t.Say("join.colon"),
		Greeting: t.Say("greeting.plain"),
		Sign:     []string{t.Say("closing.sign", "shop", shop.Name)},
		Small:    []string{t.Say("closing.manual"), why, shop.Name + ", " + shop.Address},
		Button:   Hyperlink{w.button(), links.My},
		Why:      w.why(),
		Jobs:     w.jobs(),
		Safety:   w.safety(),
		Stop:     Hyperlink{stop, links.Stop},
	}
	if n.Customer.Name != "" {
		c.Greeting = t.Say("greeting.named", "name", n.Customer.Name)
	}
	if shop.Phone != "" {
		c.Call = fact{t.Say("answer.call"), shop.Phone, telephone(shop.Phone)}
	}
	if n.Freeze != nil {
		w.freeze(c, n.Freeze)
		return c
	}
	c.Subject, c.Intro = w.subject(), w.intro()
	w.rows(c)
	w.arrival(c)
	if n.Step == schedule.StepNewAddress && len(n.Visits) == 0 {
		// Nothing opens the customer's page for whoever has the old address now.
		c.Greeting, c.Button, c.Stop = t.Say("greeting.plain"), Hyperlink{}, Hyperlink{}
	}
	return c
}

// telephone is the link that calls a number.
func telephone(number string) template.URL {
	return "tel:" + template.URL(strings.Map(func(r rune) rune {
		if r == '+' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, number))
}

// intro is what the mail is, in a sentence; a first reminder needs none. It
// promises no room that is not kept.
func (w *composer) intro() []string {
	if len(w.n.Readings) > 0 {
		key := "hours"
		if len(w.n.Readings) > 1 {
			key = "hours_several" // a reply with a number would not say of which
		}
		return []string{w.t.Say("intro."+key, "boats", w.t.List(w.boatNames()), "jobs", w.askedFor())}
	}
	if len(w.n.Renewals) > 0 {
		var all []string
		for i := range w.n.Renewals {
			r := &w.n.Renewals[i]
			all = append(all, w.t.Say("intro.renewal", "boat", r.Boat.Title(), "date", w.day(r.Line.Item.Due)))
		}
		return append(all, w.t.Say("intro.renewal_done"))
	}
	if from := &w.n.From; from.Shop != "" {
		all := []string{w.t.Say("intro.welcome_from", "shop", from.Shop)}
		var days []string
		for _, d := range from.Booked {
			days = append(days, w.day(d))
		}
		if len(days) > 0 {
			all = append(all, w.t.Say("intro.welcome_booked", "shop", from.Shop, "dates", w.t.List(days)))
		}
		return all
	}
	key, args := w.tone(), []string(nil)
	switch key {
	case "first":
		return nil
	case "late", "final-reminder":
		args = append(args, "deadline", w.day(w.leading().Visit.Visit.Deadline))
	case "missed":
		args = append(args, "date", w.day(w.missedDay()))
	case "correction":
		args = append(args, "date", w.day(w.n.Corrects.Day), "subject", w.n.Corrects.Subject)
	case "confirmation_us", "cancellation_us":
		args = append(args, "reason", w.leading().Reason)
	case "passed-on_sister":
		args = append(args, "shop", w.leading().Reason)
	}
	if s := w.t.Say("intro."+key, args...); s != "" {
		return []string{s}
	}
	return nil
}

// leading is the most urgent visit of the notice, nil for a notice of none.
func (w *composer) leading() *notify.NoticeVisit {
	if len(w.n.Visits) == 0 {
		return nil
	}
	return &w.n.Visits[0]
}

// tone is in whose words the notice speaks: those of its step, but a first
// email of a visit never sounds like a later one.
func (w *composer) tone() string {
	v := w.leading()
	if v == nil && w.n.Step == schedule.StepNewAddress {
		return "new-address_old"
	}
	if v == nil || !isVisitReminder(v.Step) {
		return string(w.n.Step) + w.change()
	}
	switch {
	case w.missedDay() != 0:
		return "missed"
	case v.Step == schedule.StepAsked:
		return string(v.Step)
	case v.Step == schedule.StepOverdue, v.First && w.late(v):
		return "late"
	case v.First:
		return "first"
	}
	return string(v.Step)
}

// change is on whose wish the booked days of a notice are other ones: "_you"; ""
// where nothing changed or not all for the same reason.
func (w *composer) change() string {
	var all []notify.Change
	for i := range w.n.Visits {
		all = append(all, w.n.Visits[i].Change)
	}
	if all = slices.Compact(all); len(all) != 1 || all[0] == "" {
		return ""
	}
	return "_" + string(all[0])
}

// isVisitReminder reports whether a step is one of reminding for a visit.
func isVisitReminder(s schedule.Step) bool {
	return s == schedule.StepInvitation || s == schedule.StepNudge || s == schedule.StepLastCall || s == schedule.StepOverdue || s == schedule.StepAsked
}

// late reports whether the day has passed by which a visit was to be done.
func (w *composer) late(v *notify.NoticeVisit) bool {
	return v.Visit.Visit.Deadline != 0 && v.Visit.Visit.Deadline < w.today
}

// missedDay is the booked day, of a visit that the mail reminds of, that passed
// without recorded work; none if there is none.
func (w *composer) missedDay() civil.Day {
	for i := range w.n.Visits {
		if v := &w.n.Visits[i]; isVisitReminder(v.Step) && v.Visit.Visit.Missed != 0 {
			return v.Visit.Visit.Missed
		}
	}
	return 0
}

// isReminder reports whether a step's mails are of the kind that a customer
// may stop; those about a booked visit are its record, and one carries a new link.
func isReminder(s schedule.Step) bool {
	switch s {
	case schedule.StepConfirmation, schedule.StepBooked, schedule.StepCancellation, schedule.StepPassedOn, schedule.StepNewLink, schedule.StepNewAddress:
		return false
	}
	return true
}

// button says what a press leads to.
func (w *composer) button() string {
	switch w.n.Step {
	case schedule.StepConfirmation, schedule.StepBooked, schedule.StepNewAddress:
		return w.t.Say("answer.booked_button")
	case schedule.StepHours:
		return w.t.Say("answer.hours_button")
	case schedule.StepCancellation:
		if w.change() != "_"+string(notify.Declined) {
			return w.t.Say("answer.again_button")
		}
	case schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue, schedule.StepWarranty, schedule.StepAsked:
		return w.t.Say("answer.button")
	}
	return w.t.Say("answer.plan_button")
}

// rows lays out the visits, and what was done at one.
func (w *composer) rows(c *content) {
	for i := range w.n.Visits {
		c.Rows = append(c.Rows, w.row(&w.n.Visits[i]))
	}
	for _, d := range w.n.Done {
		c.DoneTitle = w.t.Say("work.done")
		c.Done = append(c.Done, d.Title)
		if winter := w.t.Say("caution.lay-up"); d.Winterized && !slices.Contains(c.Safety, winter) {
			c.Safety = append(c.Safety, winter)
		}
		if d.ChargeDays > 0 {
			c.Safety = append(c.Safety, w.charge(&d))
		}
	}
	c.Done = w.cut(c.Done)
	if len(w.n.Left) > 0 {
		c.Why = []string{w.t.Say("work.left", "jobs", w.joined(w.cut(w.n.Left)))}
	}
	for i := range w.n.Boats {
		b := &w.n.Boats[i]
		c.NextTitle = w.t.Say("work.next")
		for j := range b.Visits {
			c.Rows = append(c.Rows, w.row(&notify.NoticeVisit{Boat: b.Boat, Visit: b.Visits[j]}))
		}
		if len(b.Visits) == 0 {
			c.Rows = append(c.Rows, row{Boat: b.Boat.Title(), Title: w.t.Say("work.none_next")})
		}
	}
}
