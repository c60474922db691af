package customer

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// myAnswer takes one answer and leads to the page that confirms it. A form that
// cannot be taken is shown again with what was entered and what is wrong.
func (s pages) myAnswer(r *http.Request, g guest) (site.Response, error) {
	var a schedule.Answer
	var err error
	if id := r.FormValue("visit"); id != "" {
		p, found, e := s.visitPage(r, g, id)
		if e != nil {
			return site.Response{}, e
		}
		if !found {
			return s.staleVisit(g), nil
		}
		a, err = s.answerVisit(r, &p)
		if errors.Is(err, store.ErrStale) {
			return s.staleAnswer(r, g, id)
		}
		if err != nil {
			return s.refuseVisit(r, &p, err)
		}
	} else if a, err = s.answerBoat(r, g); err != nil {
		return s.refuseMy(r, g, err)
	}
	return site.Response{To: g.Base + "/done/" + strconv.FormatInt(a.ID, 10)}, nil
}

// staleAnswer shows a visit's page as it is now, with what was entered for a
// visit that was booked otherwise when the customer's page was made.
func (s pages) staleAnswer(r *http.Request, g guest, visitID string) (site.Response, error) {
	p, found, err := s.visitPage(r, g, visitID)
	if err != nil {
		return site.Response{}, err
	}
	if !found {
		return s.staleVisit(g), nil
	}
	p.Meanwhile = s.Say("page_visit.given_up")
	if b := p.Visit.Visit.Booking; b != nil {
		move, kind := s.Say("page_visit.another_day"), schedule.AnswerKind(r.FormValue("kind"))
		if to, err := schedule.ParseWhen(r.FormValue("day")); err == nil && kind == schedule.AnswerTake && slices.ContainsFunc(p.Days, func(d dayRow) bool { return d.Day == to.Day }) {
			move = s.BookedFor(&to)
		}
		p.Meanwhile = s.Say("page_visit.booked", "day", s.BookedFor(b), "other", move)
		if kind == schedule.AnswerLater || kind == schedule.AnswerDecline {
			p.Note = site.Typed(r, "note") // there is a day to give up first
		}
	}
	return site.Response{Page: "my-visit.html", Data: &p, Code: http.StatusConflict, Refused: site.Refusals{site.At("", p.Meanwhile)}}, nil
}

// refuseVisit shows a visit's page again with what is wrong.
func (s pages) refuseVisit(r *http.Request, p *myVisitPage, err error) (site.Response, error) {
	said, err := s.refusal(err)
	if err != nil {
		return site.Response{}, err
	}
	p.Refused = said.Words
	// What others have taken meanwhile is not offered again.
	return site.Response{Page: "my-visit.html", Data: p, Refused: site.Refusals{said}}, s.room(r, p)
}

// refuseMy shows the customer's page again with what is wrong.
func (s pages) refuseMy(r *http.Request, g guest, err error) (site.Response, error) {
	said, err := s.refusal(err)
	if err != nil {
		return site.Response{}, err
	}
	p, err := s.myPage(r, g)
	p.Refused = said.Words
	return site.Response{Page: "my.html", Data: &p, Refused: site.Refusals{said}}, err
}

// refusal turns an error that the customer can mend into words; any other is
// handed on.
func (s pages) refusal(err error) (site.Refusal, error) {
	var said site.Refusal
	var week *app.FullWeek
	var day *app.FullDay
	var hour *app.TakenHour
	var soon *app.ShortNotice
	switch {
	case errors.As(err, &said):
	case errors.As(err, &week):
		said = site.At("day", s.Say("page_wrong.week_full", "date", s.Format().Date(week.Week.Monday())))
	case errors.As(err, &day):
		said = site.At("day", s.Say("page_wrong.day_full", "day", s.Format().WeekdayDate(day.Day)))
	case errors.As(err, &hour):
		said = site.At("day", s.Say("page_wrong.hour_taken", "day", s.BookedFor(&schedule.Booking{Day: hour.Day, Minute: hour.Minute})))
	case errors.As(err, &soon):
		said = site.At("day", s.Count("page_wrong.soon", soon.Notice, "day", s.Format().WeekdayDate(soon.Day)))
	case errors.Is(err, app.ErrNoRoom):
		said = site.At("day", s.Say("page_wrong.no_room"))
	case errors.Is(err, store.ErrRefused):
		said = site.At("", s.Say("page_wrong.on_file"))
	default:
		return said, err
	}
	return said, nil
}

// answerVisit takes an answer about a visit.
func (s pages) answerVisit(r *http.Request, p *myVisitPage) (schedule.Answer, error) {
	v := &p.Visit.Visit
	a := schedule.Answer{CustomerID: p.Customer.ID, BoatID: p.Boat.ID, VisitID: v.ID, Kind: schedule.AnswerKind(r.FormValue("kind")), Note: site.Typed(r, "note")}
	was := r.FormValue("was")
	near := a.Kind == "near" // a day is taken, and the shop finds it
	if near {
		a.Kind = schedule.AnswerTake
	}
	day, minute, wrong := civil.Day(0), -1, error(nil)
	if a.Kind == schedule.AnswerTake {
		day, minute, wrong = s.takenDay(r, p.Open, near)
	}
	twice := day != 0 && v.Booked() && v.Booking.Day == day && v.Booking.Minute == minute // the button pressed twice
	if v.Booking.When() != was && a.Kind != schedule.AnswerCall && !twice {
		return a, store.ErrStale
	}
	switch a.Kind {
	case schedule.AnswerTake:
		switch {
		case wrong != nil:
			return a, wrong
		case !p.Moves:
			return a, site.At("", s.Say("page_wrong.today"))
		}
		taken, err := s.App.Take(r.Context(), s.Now(), a, []*schedule.Visit{v}, day, minute, []string{was})
		if err != nil {
			return a, err
		}
		return taken[0], nil
	case schedule.AnswerCancel:
		if !v.Booked() || !p.Moves {
			return a, site.At("", s.Say("page_wrong.cancel"))
		}
	case schedule.AnswerLater:
		until, err := civil.Parse(r.FormValue("until"))
		if err != nil || !slices.ContainsFunc(p.Laters, func(l later) bool { return l.Until == until }) {
			return a, site.At("until", s.Say("page_wrong.later"))
		}
		a.Until = until
	case schedule.AnswerElsewhere:
		return s.answerElsewhere(r, p, a)
	case schedule.AnswerCall:
		if err := s.withNumber(r, &a, p.Customer.Phone); err != nil {
			return a, err
		}
	case schedule.AnswerDecline:
	default:
		return a, site.NewProblem(http.StatusBadRequest, s.Say("page_problem.answer"))
	}
	n := store.NewAnswer{Answer: a, Was: &was}
	if a.Kind == schedule.AnswerCall {
		n.Was = nil // a call takes nothing
	}
	return s.App.Reply(r.Context(), s.Now(), n)
}

// takenDay reads the day that a customer takes, and the minute of it, -1 for the whole
// day: the one that was chosen, or with near the one nearest to a day that was entered.
func (s pages) takenDay(r *http.Request, open []app.Opening, near bool) (civil.Day, int, error) {
	if near {
		wish, err := civil.Parse(r.FormValue("near"))
		switch {
		case err != nil:
			return 0, -1, site.At("near", s.Say("page_wrong.near"))
		case len(open) == 0:
			return 0, -1, site.At("near", s.Say("page_wrong.no_day_left"))
		}
		o := app.Nearest(open, wish)
		return o.Day, o.First(), nil
	}
	b, err := schedule.ParseWhen(r.FormValue("day"))
	if err != nil {
		return 0, -1, site.At("day", s.Say("page_wrong.no_day"))
	}
	return b.Day, b.Minute, nil
}

// answerElsewhere takes word of work that others did.
func (s pages) answerElsewhere(r *http.Request, p *myVisitPage, a schedule.Answer) (schedule.Answer, error) {
	day, err := s.pastDay(r)
	if err != nil {
		return a, err
	}
	readings, err := s.readMeters(r, p.Meters, day, s.Say("page_wrong.meter_changed_visit"))
	if err != nil {
		return a, err
	}
	was := r.FormValue("was")
	n := store.NewAnswer{Answer: a, Readings: readings, Was: &was}
	all := r.FormValue("all") != ""
	for _, job := range tickedJobs(r, p, all, day) {
		rec := schedule.Record{BoatID: p.Boat.ID, ComponentID: job.component, Service: job.service, Day: day, By: schedule.ByElsewhere, Note: a.Note}
		for _, m := range readings {
			if m.ComponentID == rec.ComponentID {
				rec.Hours, rec.HasHours = m.Hours, true
			}
		}
		n.Records = append(n.Records, rec)
	}
	if len(n.Records) == 0 {
		return a, site.At("line", s.Say("page_wrong.nothing_ticked"))
	}
	n.CallOff = all || len(n.Records) == len(p.Visit.Lines)
	return s.App.Reply(r.Context(), s.Now(), n)
}

// job is a job that a customer ticked, by what it is and not by its place in the
// list: that is another one once some are done and the button is pressed again.
type job struct{ component, service string }

func tickedJobs(r *http.Request, p *myVisitPage, all bool, day civil.Day) (jobs []job) {
	if all {
		for _, l := range p.Visit.Lines {
			jobs = append(jobs, job{l.Item.ComponentID, l.Item.Service})
		}
		return jobs
	}
	for _, line := range r.Form["line"] {
		component, service, _ := strings.Cut(line, " ")
		j := job{component, service}
		planned := slices.ContainsFunc(p.Visit.Lines, func(l schedule.Line) bool {
			return l.Item.ComponentID == component && l.Item.Service == service
		})
		told := slices.ContainsFunc(p.Elsewhere, func(rec schedule.Record) bool {
			return rec.ComponentID == component && rec.Service == service && rec.Day == day
		})
		if planned || told {
			jobs = append(jobs, j)
		}
	}
	return jobs
}

// oldestWork is how far back, in days, work may lie that a customer tells of.
const oldestWork = 5 * 366

// pastDay reads the day of something that has happened; without one, today.
func (s pages) pastDay(r *http.Request) (civil.Day, error) {
	today := s.Today()
	if r.FormValue("day") == "" {
		return today, nil
	}
	d, err := civil.Parse(r.FormValue("day"))
	switch {
	case err != nil:
		return 0, site.At("day", s.Say("page_wrong.day", "example", today.String()))
	case d > today:
		return 0, site.At("day", s.Say("page_wrong.day_ahead"))
	case d < today-oldestWork:
		return 0, site.At("day", s.Say("page_wrong.day_long_ago"))
	}
	return d, nil
}

// answerBoat takes an answer about a boat, or about the customer alone.
func (s pages) answerBoat(r *http.Request, g guest) (schedule.Answer, error) {
	a := schedule.Answer{CustomerID: g.Customer.ID, BoatID: r.FormValue("boat"), Kind: schedule.AnswerKind(r.FormValue("kind")), Note: site.Typed(r, "note")}
	if a.BoatID != "" {
		if _, err := s.boatOf(r, g, a.BoatID); err != nil {
			return a, err
		}
	}
	n := store.NewAnswer{Answer: a}
	switch {
	case a.Kind == schedule.AnswerHours && a.BoatID != "" && r.FormValue("changed") != "":
		return s.newMeter(r, a)
	case a.Kind == schedule.AnswerHours && a.BoatID != "":
		var err error
		if n.Readings, err = s.hoursNow(r, a.BoatID); err != nil {
			return a, err
		}
	case a.Kind == schedule.AnswerElsewhere && a.BoatID != "":
		rec, err := s.ownWork(r, a.BoatID)
		if err != nil {
			return a, err
		}
		n.Records = []schedule.Record{rec}
	case a.Kind == schedule.AnswerMails && a.BoatID == "":
		var ok bool
		if n.Mails, ok = mailChoice(r.FormValue("mails")); !ok {
			return a, site.At("mails", s.Say("page_wrong.mails"))
		}
	case a.Kind == schedule.AnswerCall:
		if err := s.withNumber(r, &a, g.Customer.Phone); err != nil {
			return a, err
		}
	case a.Kind == schedule.AnswerSold && a.BoatID != "":
	default:
		return a, site.NewProblem(http.StatusBadRequest, s.Say("page_problem.answer"))
	}
	return s.App.Reply(r.Context(), s.Now(), n)
}

// newMeter keeps for the desk what a meter shows that was changed: only somebody who
// knows the engine can say how its hours run on.
func (s pages) newMeter(r *http.Request, a schedule.Answer) (schedule.Answer, error) {
	day, err := s.pastDay(r)
	if err != nil {
		return a, err
	}
	f, err := s.App.Facts(r.Context(), a.BoatID)
	if err != nil {
		return a, err
	}
	var shows []string
	meters := s.App.Planner.HoursOutlook(&f, s.Today())
	for i := range meters {
		c := &meters[i].Component
		if text := strings.TrimSpace(r.FormValue("h-" + c.ID)); text != "" {
			shows = append(shows, cmp.Or(c.Label, "engine")+" "+words.OneLine(text))
		}
	}
	if len(shows) == 0 && len(meters) > 0 {
		return a, site.At("h-"+meters[0].Component.ID, s.Say("page_wrong.new_meter"))
	}
	a.Kind, a.Note = schedule.AnswerCall, "The hour meter was changed. On "+s.In("").Format().Date(day)+" it shows: "+strings.Join(shows, ", ")+"."
	return s.App.Reply(r.Context(), s.Now(), store.NewAnswer{Answer: a})
}

// withNumber asks a customer without a number on file for one, and hands it to whoever
// calls.
func (s pages) withNumber(r *http.Request, a *schedule.Answer, onFile string) error {
	if onFile != "" {
		return nil
	}
	number := words.OneLine(r.FormValue("number"))
	digits := strings.Map(func(c rune) rune {
		if c < '0' || c > '9' {
			return -1
		}
		return c
	}, number)
	if len(digits) < 7 || len(number) > 40 {
		return site.At("number", s.Say("page_wrong.number"))
	}
	a.Note = strings.TrimSpace("Number: " + number + ". " + a.Note)
	return nil
}

// ownWork takes word of something that the owner saw to himself.
func (s pages) ownWork(r *http.Request, boatID string) (schedule.Record, error) {
	key := r.FormValue("item")
	day, err := s.pastDay(r)
	if err != nil {
		return schedule.Record{}, err
	}
	view, err := s.App.View(r.Context(), boatID)
	if err != nil {
		return schedule.Record{}, err
	}
	for _, l := range view.Loose {
		if it := &l.Item; it.Key() == key {
			return schedule.Record{BoatID: boatID, ComponentID: it.ComponentID, Service: it.Service, Day: day, By: schedule.ByElsewhere, Note: site.ToldByOwner}, nil
		}
	}
	return schedule.Record{}, site.At("", s.Say("page_wrong.not_listed"))
}

// mailChoice reads which mails a customer wants.
func mailChoice(word string) (store.MailChoice, bool) {
	switch word {
	case "all":
		return store.MailChoice{}, true
	case "booked":
		return store.MailChoice{NoReminders: true}, true
	case "none":
		return store.MailChoice{NoReminders: true, NoMail: true}, true
	}
	return store.MailChoice{}, false
}

// hoursNow reads the meters of a boat's engines from a form of its own.
func (s pages) hoursNow(r *http.Request, boatID string) ([]schedule.Reading, error) {
	day, err := s.pastDay(r)
	if err != nil {
		return nil, err
	}
	f, err := s.App.Facts(r.Context(), boatID)
	if err != nil {
		return nil, err
	}
	meters := s.App.Planner.HoursOutlook(&f, s.Today())
	readings, err := s.readMeters(r, meters, day, s.Say("page_wrong.meter_changed"))
	if err == nil && len(readings) == 0 {
		said := site.At("", s.Say("page_wrong.no_hours"))
		if len(meters) > 0 {
			said.Field = "h-" + meters[0].Component.ID
		}
		err = said
	}
	return readings, err
}
