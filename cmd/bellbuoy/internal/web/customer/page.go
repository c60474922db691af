package customer

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// myPage is everything about one customer's boats.
type myPage struct {
	guest
	Boats   []myBoat
	Recent  []replyRow
	Mails   store.MailChoice
	Open    int    // boats with a visit that waits for an answer
	Undone  bool   // something was just taken back
	Saved   bool   // how the customer is reached was just changed
	Form    string // key of the form that changes it
	Seen    string // names the customer as that form shows them
	Refused string // why a form was refused, "" if none was
	Today   civil.Day
}

// myBoat is one boat as its owner reads it.
type myBoat struct {
	Boat   schedule.Boat
	Place  schedule.Place
	Sold   bool // its owner says so, and the desk has not looked yet
	Visits []myVisit
	Yours  []myOwn // what the owner sees to himself, or should know
	Meters []schedule.Outlook
}

// myVisit is one visit as the boat's owner reads it.
type myVisit struct {
	schedule.VisitView
	URL   string
	When  string // "in the week of 3 May 2027"
	Mark  string // a sign before the state, so that colour is never alone
	State string
	Late  bool
	Fixed bool
	// Passed says that a booked day is over and no work is recorded, "" if not.
	Passed string
	About  string // what it costs, "" if nothing is known
	No     bool   // the customer does not want it
	Reply  string // what the customer answered about it, "" if nothing
	// Writes is the day about which the shop first writes about it; none if that has
	// come. Only a visit without it asks for an answer.
	Writes civil.Day
}

// asks reports whether the visit waits for its owner's answer.
func (m *myVisit) asks() bool { return !m.Fixed && !m.No && m.Writes == 0 }

// myOwn is a day that the owner minds himself.
type myOwn struct {
	schedule.Line
	Key string
}

// replyRow is something that the customer answered lately.
type replyRow struct {
	ID      int64
	On      civil.Day
	Words   string
	CanUndo bool
}

func (s pages) my(r *http.Request, g guest) (site.Response, error) {
	p, err := s.myPage(r, g)
	p.Undone, p.Saved = r.FormValue("undone") != "", r.FormValue("saved") != ""
	return site.Response{Page: "my.html", Data: &p}, err
}

func (s pages) myPage(r *http.Request, g guest) (myPage, error) {
	p := myPage{guest: g, Today: s.Today(), Form: site.NewForm(), Seen: site.Seen(g.Customer)}
	rec, err := s.recipient(r, g)
	if err != nil {
		return p, err
	}
	p.Mails = store.MailChoice{NoReminders: rec.NoReminders, NoMail: rec.NoMail}
	for i := range rec.Boats {
		b, err := s.myBoat(r, g, &rec, &rec.Boats[i])
		if err != nil {
			return p, err
		}
		p.Boats = append(p.Boats, b)
		if b.asks() {
			p.Open++
		}
	}
	slices.SortStableFunc(p.Boats, func(x, y myBoat) int { return boatRank(&x) - boatRank(&y) })
	p.Recent, err = s.replies(r, g, &rec)
	return p, err
}

// yoursAhead is how far ahead, in days, the owner is told of days to mind.
const yoursAhead = 400

func (s pages) myBoat(r *http.Request, g guest, rec *schedule.Recipient, v *schedule.BoatView) (myBoat, error) {
	b := s.myVisits(g, rec, v)
	for _, l := range v.Loose {
		if (l.Item.ByCustomer || l.Item.Basis == schedule.BasisExpiry) && l.Item.Due < s.Today()+yoursAhead {
			b.Yours = append(b.Yours, myOwn{l, l.Item.Key()})
		}
	}
	f, err := s.App.Facts(r.Context(), v.Boat.ID)
	if err != nil {
		return b, err
	}
	b.Meters = s.App.Planner.HoursOutlook(&f, s.Today())
	return b, nil
}

// myVisits is a boat with its visits, those first that wait for an answer.
func (s pages) myVisits(g guest, rec *schedule.Recipient, v *schedule.BoatView) myBoat {
	b := myBoat{Boat: v.Boat, Place: v.Place, Sold: saysSold(rec, v.Boat.ID)}
	for i := range v.Visits {
		b.Visits = append(b.Visits, s.myVisitOf(g, rec, &v.Visits[i]))
	}
	slices.SortStableFunc(b.Visits, func(x, y myVisit) int { return askRank(&x) - askRank(&y) })
	return b
}

// asks reports whether a visit of the boat waits for an answer.
func (b *myBoat) asks() bool {
	return !b.Sold && slices.ContainsFunc(b.Visits, func(m myVisit) bool { return m.asks() })
}

// askRank puts visits that wait for an answer first.
func askRank(m *myVisit) int {
	if m.asks() {
		return 0
	}
	return 1
}

// boatRank puts boats with such a visit first.
func boatRank(b *myBoat) int {
	if b.asks() {
		return 0
	}
	return 1
}

func (s pages) myVisitOf(g guest, rec *schedule.Recipient, v *schedule.VisitView) myVisit {
	m := myVisit{VisitView: *v, URL: g.At("/visit/" + url.PathEscape(v.Visit.ID)), When: s.visitWhen(&v.Visit), About: s.About(v.Visit.Price)}
	switch {
	case v.Visit.Booked() && v.Visit.DayPassed(s.Today()) != 0:
		m.Mark, m.State, m.Late = "?", s.Say("page_state.passed"), true
	case v.Visit.Kind == schedule.Winter:
		m.Mark, m.State, m.URL = "◐", s.Say("page_state.storage"), ""
	case v.Visit.Booked():
		m.Mark, m.State, m.Fixed = "●", s.Say("page_state.booked"), true
	case slices.ContainsFunc(rec.Answers, func(a schedule.Answer) bool { return a.Kind == schedule.AnswerDecline && a.VisitID == v.Visit.ID }):
		m.Mark, m.State, m.No = "–", s.Say("page_state.declined"), true
		if v.Visit.Kind == schedule.LayUp {
			m.Reply = s.Say("page_my.may_call")
		}
	case v.Visit.Deadline < s.Today():
		m.Mark, m.State, m.Late = "▲", s.Say("page_state.late"), true
	case v.Visit.Week != 0:
		m.Mark, m.State = "◐", s.Say("page_state.week")
	default:
		m.Mark, m.State = "○", s.Say("page_state.planned")
	}
	if !v.Visit.Booked() && !m.No && !m.Late {
		from, _ := v.Visit.SpanOn()
		if writes := from - civil.Day(s.App.Config.Reminders.InvitationDays); writes > s.Today() {
			m.Writes = writes
		}
	}
	if day := v.Visit.DayPassed(s.Today()); day != 0 {
		m.Passed = s.Say("page_my.passed", "day", s.Format().WeekdayDate(day))
		if !v.Visit.Booked() {
			m.Passed = s.Say("page_my.passed_open", "day", s.Format().WeekdayDate(day))
		}
	}
	for i := range rec.Answers {
		if a := &rec.Answers[i]; a.VisitID == v.Visit.ID && !v.Visit.Booked() && !m.No && a.Kind != schedule.AnswerTake && (a.Kind != schedule.AnswerCall || !a.Seen) {
			m.Reply = s.answerWords(a, nil, v)
		}
	}
	return m
}

// visitWhen words when a visit comes.
func (s pages) visitWhen(v *schedule.Visit) string {
	switch {
	case v.Booking != nil:
		return s.Say("page_visit.when_booked", "day", s.BookedFor(v.Booking))
	case v.Week != 0:
		return s.Say("page_visit.when_week", "date", s.Format().Date(v.Week.Monday()))
	}
	return s.Say("page.about_day", "date", s.Format().Date(v.Day))
}

// said lists what the customer answered in the days in which it may be taken
// back.
func (s pages) replies(r *http.Request, g guest, rec *schedule.Recipient) ([]replyRow, error) {
	now := s.Now()
	all, err := s.App.DB.RecentAnswers(r.Context(), now, s.Today(), g.Customer.ID, now.Add(-store.UndoWithin))
	rows := make([]replyRow, 0, len(all))
	for i := range all {
		a := &all[i]
		theirs := slices.ContainsFunc(rec.Boats, func(b schedule.BoatView) bool { return b.Boat.ID == a.BoatID })
		if a.BoatID != "" && !theirs && a.Kind != schedule.AnswerSold {
			continue // what was said of a boat went with it
		}
		rows = append(rows, replyRow{ID: a.ID, On: s.DayOf(a.At), CanUndo: a.CanUndo, Words: s.replyWords(rec, a)})
	}
	return rows, err
}

// replyWords words an answer with the boat's name before it.
func (s pages) replyWords(rec *schedule.Recipient, a *store.RecentAnswer) string {
	k := slices.IndexFunc(rec.Boats, func(b schedule.BoatView) bool { return b.Boat.ID == a.BoatID })
	if k < 0 {
		return s.saidInFull(a, nil)
	}
	b := &rec.Boats[k]
	var visit *schedule.VisitView
	if i := slices.IndexFunc(b.Visits, func(v schedule.VisitView) bool { return v.Visit.ID == a.VisitID }); i >= 0 {
		visit = &b.Visits[i]
	}
	return s.Say("page_said.of_boat", "boat", b.Boat.Title(), "what", s.saidInFull(a, visit))
}

// saidInFull says what an answer changed, with its figures.
func (s pages) saidInFull(a *store.RecentAnswer, v *schedule.VisitView) string {
	switch a.Kind {
	case schedule.AnswerElsewhere:
		return s.Say("page_said.elsewhere_work", "work", s.WorkWords(a.Effect.Records, a.Note))
	case schedule.AnswerHours:
		if len(a.Effect.Readings) == 0 {
			break
		}
		return s.Say("page_said.hours_read", "readings", strings.Join(s.ReadingWords(a.Effect.Readings), "; "))
	case schedule.AnswerMails:
		switch m := a.Effect.MailsAre; {
		case m == nil:
		case m.NoMail:
			return s.Say("page_said.mails_none")
		case m.NoReminders:
			return s.Say("page_said.mails_booked")
		default:
			return s.Say("page_said.mails_all")
		}
	}
	return s.answerWords(&a.Answer, a.Booking, v)
}

// answerWords says in a sentence what an answer means.
func (s pages) answerWords(a *schedule.Answer, b *schedule.Booking, v *schedule.VisitView) string {
	title := s.Say("page_said.visit")
	if v != nil {
		title = v.Title
	}
	switch a.Kind {
	case schedule.AnswerTake:
		if b != nil {
			return s.Say("page_said.take_day", "visit", title, "day", s.BookedFor(b))
		}
		return s.Say("page_said.take", "visit", title)
	case schedule.AnswerCancel:
		if b != nil {
			return s.Say("page_said.cancel_day", "visit", title, "day", s.BookedFor(b))
		}
		return s.Say("page_said.cancel", "visit", title)
	case schedule.AnswerLater:
		return s.Say("page_said.later", "visit", title, "date", s.Format().Date(a.Until))
	case schedule.AnswerDecline:
		return s.Say("page_said.decline", "visit", title)
	case schedule.AnswerCall:
		return s.Say("page_said.call")
	case schedule.AnswerElsewhere:
		return s.Say("page_said.elsewhere")
	case schedule.AnswerHours:
		return s.Say("page_said.hours")
	case schedule.AnswerSold:
		return s.Say("page_said.sold")
	case schedule.AnswerMails:
		return s.Say("page_said.mails")
	}
	return s.Say("page_said.other")
}
