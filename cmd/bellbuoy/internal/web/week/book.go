package week

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// bookPage fixes a visit's day, or puts it into another shop week.
type bookPage struct {
	site.VisitForm
	Day   civil.Day // suggested, or booked
	Time  string    // "09:00", "" for the whole day
	Was   string    // the booking that the form is shown for
	Full  bool      // the week of that day has no hours left; it may be booked all the same
	Weeks []weekChoice
	Days  []dayChoice    // of the week of that day
	Holds []store.DayRow // what that day holds already, in order of its hour
	// Doubted: the day may be booked when somebody says that it is right.
	Doubted bool
}

// weekChoice is a shop week to pick.
type weekChoice struct {
	Week  civil.Week
	Words string // "3 May 2027: 24 of 96 h taken"
	Here  bool   // the visit is in it now
}

// dayChoice is a day to pick.
type dayChoice struct {
	Day   civil.Day
	Words string // "2 boats, 5.5 of 14 h booked"
	Full  bool   // the others leave no hours for the visit
	Late  bool   // after the visit's last good day
}

// weeksToChoose is how many weeks are offered, half a year.
const weeksToChoose = 30

func (s pages) bookForm(r *http.Request) (site.Response, error) {
	f, err := s.NeedVisit(r)
	if err != nil {
		return site.Response{}, err
	}
	return s.bookAgain(r, f, nil)
}

// bookAgain shows the form, with why it was refused.
func (s pages) bookAgain(r *http.Request, f site.VisitForm, refusal error) (site.Response, error) {
	why, _ := site.Refused(refusal)
	code := 0
	if errors.Is(refusal, store.ErrStale) {
		var err error
		if f, err = s.NeedVisit(r); err != nil {
			return site.Response{}, err
		}
		why, code = site.Refusals{site.At("", s.meanwhile(f.Visit.Visit.Booking))}, http.StatusConflict
	}
	f.Fault = why.Words()
	v := &f.Visit.Visit
	p := bookPage{VisitForm: f, Was: v.Booking.When()}
	var full *app.FullWeek
	p.Full = errors.As(refusal, &full)
	p.Doubted = errors.As(refusal, new(*app.Doubtful))
	if b := v.Booking; b != nil {
		p.Day = b.Day
		if b.Minute >= 0 {
			p.Time = fmt.Sprintf("%02d:%02d", b.Minute/60, b.Minute%60)
		}
	}
	if d, err := civil.Parse(r.FormValue("day")); err == nil {
		p.Day = d // one of the days beside the form was picked
	}
	if err := s.chooseDay(r, &p, v); err != nil {
		return site.Response{}, err
	}
	held, err := s.App.DB.Day(r.Context(), p.Day, false)
	if err != nil {
		return site.Response{}, err
	}
	p.Holds = slices.DeleteFunc(held, func(o store.DayRow) bool { return o.VisitID == v.ID || o.Visit == nil })
	p.Weeks, err = s.chooseWeeks(r, &f.Visit.Visit)
	return site.Response{Page: "book.html", Data: &p, Refused: why, Code: code}, err
}

// meanwhile says what became of a visit since the form was shown.
func (s pages) meanwhile(b *schedule.Booking) string {
	if b == nil {
		return "Meanwhile the booked day was given up. Nothing was changed; if the day below is still right, book it."
	}
	return "Meanwhile this visit was booked for " + s.BookedFor(b) + ". Nothing was changed: keep that, move it to the day below, or take the booking off."
}

// chooseDay lists the days of the week of the day that the form has; a form
// without one gets the first day with room from the visit's week on, else the first
// on which somebody works.
func (s pages) chooseDay(r *http.Request, p *bookPage, v *schedule.Visit) error {
	const weeksToSearch = 8
	week := max(v.Week, s.Today().Week())
	switch {
	case p.Day != 0:
		week = p.Day.Week()
	case v.Week == 0:
		week = max(v.Day.Week(), week)
	}
	for w := week; w < week+weeksToSearch; w++ {
		days, err := s.App.Workdays(r.Context(), v, w, s.Today())
		if err != nil {
			return err
		}
		var choices []dayChoice
		for _, d := range days {
			c := dayChoice{Day: d.Day, Words: "nothing booked", Late: v.Deadline < d.Day && v.Deadline >= s.Today() && !v.NothingLeft()}
			if d.Boats > 0 {
				c.Words = fmt.Sprintf("%s, %s of %s h booked", words.Plural(d.Boats, "boat", "boats"), s.Format().Labor(d.Booked), s.Format().Labor(d.Minutes))
			}
			c.Full = d.Boats > 0 && d.Booked+v.Labour > d.Minutes
			choices = append(choices, c)
		}
		if len(choices) > 0 && p.Days == nil {
			p.Days = choices
		}
		i := slices.IndexFunc(choices, func(c dayChoice) bool { return !c.Full && c.Day > s.Today() })
		switch {
		case p.Day != 0:
			return nil
		case i >= 0:
			p.Day, p.Days = choices[i].Day, choices
			return nil
		}
	}
	if len(p.Days) > 0 {
		p.Day = p.Days[0].Day
	}
	return nil
}

// chooseWeeks lists the coming weeks with their load.
func (s pages) chooseWeeks(r *http.Request, v *schedule.Visit) ([]weekChoice, error) {
	first := s.Today().Week()
	last := first + weeksToChoose
	capacity, err := s.App.CapacityLeft(r.Context(), s.Today(), first, last)
	if err != nil {
		return nil, err
	}
	loads, err := s.App.DB.WeekLoads(r.Context(), first, last)
	if err != nil {
		return nil, err
	}
	taken := make(map[civil.Week]int)
	for _, l := range loads {
		taken[l.Week] = l.Booked[level.Labor] + l.Pencilled[level.Labor]
	}
	var out []weekChoice
	for _, c := range capacity {
		said := s.LogDay(c.Week.Monday()) + ": closed"
		if hours := c.Total()[level.Labor]; hours > 0 {
			said = fmt.Sprintf("%s: %s of %s h taken", s.LogDay(c.Week.Monday()), s.Format().Labor(taken[c.Week]), s.Format().Labor(hours))
		}
		if c.Through(v.Deadline)[level.Labor] <= 0 && c.Week >= v.Deadline.Week() {
			said += ", after the deadline"
		}
		out = append(out, weekChoice{Week: c.Week, Words: said, Here: c.Week == v.Week})
	}
	return out, nil
}

func (s pages) book(r *http.Request) (site.Response, error) {
	f, err := s.NeedVisit(r)
	if err != nil {
		return site.Response{}, err
	}
	var note string
	var did app.Change
	was := r.PostFormValue("was")
	switch r.PostFormValue("do") {
	case "book":
		note, did, err = s.bookDay(r, &f)
	case "unbook", "unbook-us":
		note = "The booking is canceled; the visit is penciled in again."
		if f.Visit.Visit.NothingLeft() {
			note = "The booking is canceled."
		}
		why := &schedule.CalledOff{ByShop: r.PostFormValue("do") == "unbook-us"}
		if why.ByShop {
			why.Reason, err = bookingReason(r)
			if err == nil && why.Reason == "" {
				err = site.At("reason", "Say why you cancel it: the customer reads it.")
			}
		}
		if err == nil {
			did, err = s.App.Unbook(r.Context(), s.Now(), site.Actor(r), f.Boat.ID, f.VisitID(), &was, why)
		}
	case "week":
		note, did, err = s.bookWeek(r, &f)
	case "release":
		note = "The planner chooses the week again."
		did, err = s.App.Pin(r.Context(), s.Now(), site.Actor(r), f.Boat.ID, f.VisitID(), 0)
	default:
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Go back and press one of its buttons.")
	}
	if _, ok := site.Refused(err); ok || errors.Is(err, store.ErrStale) {
		return s.bookAgain(r, f, err)
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: f.Back, Note: s.Also(note, &did)}, nil
}

// longestReason is how many bytes the reason for moving or canceling a visit may have.
const longestReason = 160

// bookingReason reads why the shop moves or cancels a visit, "" if it does not say.
func bookingReason(r *http.Request) (string, error) {
	reason := words.OneLine(r.PostFormValue("reason"))
	if len(reason) > longestReason {
		return "", site.At("reason", "Say it in one sentence: the customer reads it.")
	}
	return reason, nil
}

// bookDay fixes the day that the form names.
func (s pages) bookDay(r *http.Request, f *site.VisitForm) (note string, did app.Change, err error) {
	b := schedule.Booking{BoatID: f.Boat.ID, VisitID: f.VisitID(), Kind: f.Visit.Visit.Kind, Minute: -1, Over: r.PostFormValue("over") != ""}
	if b.Reason, err = bookingReason(r); err != nil {
		return "", did, err
	}
	was := r.PostFormValue("was")
	if b.Day, err = site.FormDay(r, "day", "Day", 0); err != nil {
		return "", did, err
	}
	if b.Day == 0 || b.Day < s.Today() {
		return "", did, site.At("day", "Choose a day from today on.")
	}
	if v := r.PostFormValue("time"); v != "" {
		t, err := time.Parse("15:04", v)
		if err != nil {
			return "", did, site.At("time", "Time: "+v+" is not a time of day. Write it like 09:00.")
		}
		b.Minute = t.Hour()*60 + t.Minute()
	}
	if did, err = s.App.Book(r.Context(), s.Now(), site.Actor(r), b, &was, r.PostFormValue("sure") != ""); err != nil {
		return "", did, err
	}
	return fmt.Sprintf("%s is booked for %s.", f.Boat.Title(), s.BookedFor(&b)), did, nil
}

// bookWeek pencils the visit into the week that the form names.
func (s pages) bookWeek(r *http.Request, f *site.VisitForm) (note string, did app.Change, err error) {
	w, err := civil.ParseWeek(r.PostFormValue("week"))
	if err != nil || w < s.Today().Week() {
		return "", did, site.At("week", "Choose a week from this one on.")
	}
	note = fmt.Sprintf("%s is penciled in for the week of %s; it stays there until you change it.", f.Boat.Title(), s.Format().Date(w.Monday()))
	did, err = s.App.Pin(r.Context(), s.Now(), site.Actor(r), f.Boat.ID, f.VisitID(), w)
	return note, did, err
}
