package message

import (
	"slices"
	"strconv"
	"strings"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// content is what a mail says, before it is set as text or as HTML: both
// are made from it alone, so both say the same.
type content struct {
	Language, Subject string
	Heading           string // of a report, "" for none
	Greeting          string // "" for none
	Intro             []string
	Done              []jobLine
	DoneTitle         string
	Boats             []boatEntry
	NextTitle         string // above the boats, "" for none
	Sections          []Section
	How               string
	Button            Hyperlink
	More              Hyperlink // below the button
	Phone             string
	Sign              []string
	Small             []string
	Stop              Hyperlink
}

// Hyperlink is a link with what it says.
type Hyperlink struct{ Label, URL string }

type boatEntry struct {
	ID     string
	Name   string
	Visits []visitEntry
}

type visitEntry struct {
	Gutter, GutterDate string // in the margin: "Week of", "5 October 2026"
	Title              string
	Lead               []string
	Lines              []jobLine
	Also               []string // work that needs no line of its own
	Cost               string
	CautionTitle       string
	Cautions           []string
}

type jobLine struct {
	Title, Note string // note: about what it costs, or who does it
	Why         string
	Matters     string
}

// composer makes the content of one notice.
type composer struct {
	t     *Texts
	shop  *Shop
	links Links
	n     *notify.Notice
}

// compose words a notice.
func compose(t *Texts, shop *Shop, links Links, n *notify.Notice) *content {
	w := composer{t: t, shop: shop, links: links, n: n}
	why, stop := t.say("closing.reminder"), t.say("closing.stop") // why the customer gets the mail
	if !isReminder(n.Step) {
		why, stop = t.say("closing.booking"), t.say("closing.stop_booking")
	}
	c := &content{
		Language: t.say("language"),
		Subject:  w.subject(),
		Greeting: t.say("greeting.plain"),
		Intro:    []string{w.intro()},
		Sign:     []string{t.say("closing.sign", "shop", shop.Name)},
		Small:    []string{t.say("closing.manual"), why, shop.Name + ", " + shop.Address},
		Stop:     Hyperlink{stop, links.Stop},
		More:     Hyperlink{t.say("answer.calendar"), links.Calendar},
	}
	if n.Customer.Name != "" {
		c.Greeting = t.say("greeting.named", "name", n.Customer.Name)
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

// intro is the sentence that begins the mail. It promises no room that is not
// kept.
func (w *composer) intro() string {
	if missed := w.missedDay(); missed != 0 {
		return w.t.say("intro.missed", "date", w.t.day(missed))
	}
	key := w.tone()
	if w.nothingHeld() && w.n.Step != schedule.StepLastCall {
		key += "_open"
	}
	return w.t.say("intro." + key)
}

// missedDay is the booked day, of a visit that the mail reminds of, that passed
// without recorded work; none if there is none.
func (w *composer) missedDay() civil.Day {
	for i := range w.n.Visits {
		v := &w.n.Visits[i]
		switch v.Step {
		case schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue:
		default:
			continue
		}
		if v.Visit.Visit.Missed != 0 {
			return v.Visit.Visit.Missed
		}
	}
	return 0
}

// nothingHeld reports whether the mail asks for a day for visits of which none
// has a week.
func (w *composer) nothingHeld() bool {
	return asksForDay(w.n.Step) && !slices.ContainsFunc(w.n.Visits, func(v notify.NoticeVisit) bool { return v.Step != "" && !unheld(&v) })
}

// isReminder reports whether a step's mails are of the kind that a customer
// may stop; those about a booked visit are its record.
func isReminder(s schedule.Step) bool {
	return s != schedule.StepConfirmation && s != schedule.StepBooked && s != schedule.StepCancellation && s != schedule.StepPassedOn
}

// answer says what to click.
func (w *composer) answer(c *content) {
	key := "button"
	switch w.n.Step {
	case schedule.StepConfirmation, schedule.StepBooked:
		key, c.How = "booked_button", w.t.say("answer.booked_how")
	case schedule.StepHours:
		key = "hours_button"
	case schedule.StepWelcome, schedule.StepSummary, schedule.StepPassedOn:
		key = "plan_button"
	default:
		c.How = w.t.say("answer.how")
	}
	c.Button = Hyperlink{w.t.say("answer." + key), w.links.My}
}

// body fills in the boats.
func (w *composer) body(c *content) {
	for i := range w.n.Visits {
		v := &w.n.Visits[i]
		w.boat(c, &v.Boat, w.visit(v))
	}
	for i := range w.n.Readings {
		w.boat(c, &w.n.Readings[i].Boat, w.reading(&w.n.Readings[i]))
	}
	for _, d := range w.n.Done {
		c.DoneTitle = w.t.say("work.done")
		why := d.Note
		if d.ChargeDays > 0 {
			key := "work.charge"
			if d.ColdCare {
				key = "work.charge_cold"
			}
			why = strings.TrimSpace(why + " " + w.t.say(key, "days", strconv.Itoa(d.ChargeDays)))
		}
		c.Done = append(c.Done, jobLine{Title: d.Title, Why: why})
	}
	for i := range w.n.Boats {
		w.plan(c, &w.n.Boats[i])
	}
}

// boat puts a visit under its boat's name.
func (w *composer) boat(c *content, of *schedule.Boat, v visitEntry) {
	k := slices.IndexFunc(c.Boats, func(b boatEntry) bool { return b.ID == of.ID })
	if k < 0 {
		k, c.Boats = len(c.Boats), append(c.Boats, boatEntry{ID: of.ID, Name: of.Title()})
	}
	c.Boats[k].Visits = append(c.Boats[k].Visits, v)
}

// plan lays out a boat's visits to come, for a welcome or a summary.
func (w *composer) plan(c *content, b *schedule.BoatView) {
	c.NextTitle = w.t.say("work.next")
	for i := range b.Visits {
		v := &notify.NoticeVisit{Boat: b.Boat, Visit: b.Visits[i]}
		w.boat(c, &b.Boat, w.visit(v))
	}
	if len(b.Visits) == 0 {
		w.boat(c, &b.Boat, visitEntry{Title: w.t.say("work.none_next")})
	}
}
