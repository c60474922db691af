package week

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// dayPage is who comes when, and how far everybody has come.
type dayPage struct {
	Day        civil.Day
	Now        bool // it is today
	Prev, Next civil.Day
	Sheets     civil.Day // on today's page, the next day of work
	Tally      []weekTally
	Technician string // whose list it is, "" for everybody's
	Hours      string // "14.5 of 21 h are booked", "" where nobody works
	Away       string // who is not at work
	Sections   []daySection
	Workers    []app.Worker
	MayBook    bool
	Back       string
}

type daySection struct {
	ID, Name, About string
	Rows            []dayLine
}

// dayLine is one visit of the day.
type dayLine struct {
	store.DayRow
	Came  bool // on an earlier day
	State string
	Timed bool   // the state says since when
	Hours string // that it takes, "" once it is recorded
	Lead  string
	Facts []string
	Loud  []string
	Jobs  []weekJob
	// Next, Other and Back are the presses: the usual one, the other one, and the one
	// that takes a mistake back; without a stage for none.
	Next, Other, Back press
	Do                []action
}

// Hourly is the booked visit, for the words about its hour.
func (l *dayLine) Hourly() schedule.Visit { return schedule.Visit{Booking: &l.Booking} }

// press moves a visit to a stage.
type press struct {
	Stage store.Stage
	Name  string
}

// anyTechnician, in the address, is everybody's list; a technician who signs in
// gets the own one without it.
const anyTechnician = "all"

func (s pages) day(r *http.Request) (site.Response, error) {
	p := dayPage{Day: s.Today(), Back: r.URL.RequestURI()}
	if v := r.FormValue("day"); v != "" {
		d, err := civil.Parse(v)
		if err != nil {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "That day could not be read. Days are written like 2027-04-12.")
		}
		p.Day = d
	}
	p.Now, p.Prev, p.Next = p.Day == s.Today(), p.Day-1, p.Day+1
	who, _ := site.StaffOf(r)
	p.MayBook = who.Level() >= site.Desk
	var err error
	if p.Workers, err = s.App.WorkersOn(r.Context(), p.Day); err != nil {
		return site.Response{}, err
	}
	p.Technician = r.FormValue("technician")
	own := slices.IndexFunc(p.Workers, func(w app.Worker) bool { return strings.EqualFold(w.Name, who.Name) })
	switch {
	case p.Technician == anyTechnician:
		p.Technician = ""
	case p.Technician == "" && own >= 0 && !p.MayBook:
		p.Technician = p.Workers[own].Name
	}
	if p.Sheets, err = s.App.NextWorkday(r.Context(), p.Day); err != nil {
		return site.Response{}, err
	}
	rows, err := s.App.DB.Day(r.Context(), p.Day, p.Now)
	if err != nil {
		return site.Response{}, err
	}
	p.count(rows, s.Format())
	return site.Response{Page: "day.html", Data: &p}, s.fillDay(r, &p, rows)
}

// count fills in who does how much, and how much of the day is booked.
func (p *dayPage) count(rows []store.DayRow, in words.Format) {
	booked, has, boats := 0, 0, make(map[string]int)
	for i := range rows {
		boats[rows[i].Technician]++
		if v := rows[i].Visit; v != nil && rows[i].Booking.Day == p.Day {
			booked += v.Labour
		}
	}
	tally := func(name, technician string, n int) {
		here := technician == p.Technician || technician == anyTechnician && p.Technician == ""
		p.Tally = append(p.Tally, weekTally{Name: name, N: fmt.Sprint(n), URL: dayURL(p.Day, technician), Here: here})
	}
	tally("all", anyTechnician, len(rows))
	var away []string
	for _, w := range p.Workers {
		if has += w.Minutes; w.Minutes == 0 {
			away = append(away, w.Name)
		}
		if boats[w.Name] > 0 || w.Name == p.Technician {
			tally(w.Name, w.Name, boats[w.Name])
		}
	}
	if has > 0 {
		p.Hours = fmt.Sprintf("%s of %s h are booked", in.Labor(booked), in.Labor(has))
		if booked > has {
			p.Hours = fmt.Sprintf("%s h are booked, %s h more than there are", in.Labor(booked), in.Labor(booked-has))
		}
		p.Away = strings.Join(away, ", ")
	}
}

// dayURL is the address of a day's list.
func dayURL(day civil.Day, technician string) string {
	v := url.Values{"day": {day.String()}}
	if technician != "" {
		v.Set("technician", technician)
	}
	return "/day?" + v.Encode()
}

// fillDay words the rows: first what is still with us from earlier days.
func (s pages) fillDay(r *http.Request, p *dayPage, rows []store.DayRow) error {
	rows = slices.DeleteFunc(rows, func(x store.DayRow) bool { return p.Technician != "" && x.Technician != p.Technician })
	var ids []string
	for i := range rows {
		if rows[i].Visit != nil {
			ids = append(ids, rows[i].VisitID)
		}
	}
	planned, err := s.visitLines(r, ids, p.Back)
	if err != nil {
		return err
	}
	earlier := daySection{ID: "earlier", Name: "Still with us", About: "booked for an earlier day"}
	comes := daySection{ID: "comes", Name: "By the hour"}
	for i := range rows {
		l := dayLine{DayRow: rows[i], Lead: schedule.VisitTitle(rows[i].Booking.Kind)}
		if k := slices.IndexFunc(planned, func(w weekLine) bool { return w.Visit.ID == l.VisitID }); k >= 0 {
			w := &planned[k]
			l.Lead, l.Facts, l.Jobs, l.Loud = w.Lead, w.Facts, w.Jobs, w.Loud
			if n := w.Visit.Labour; n > 0 { // first, as the day is made of hours
				l.Hours = s.Format().Labor(n) + " h"
				l.Facts = slices.DeleteFunc(slices.Clone(w.Facts), func(f string) bool { return f == l.Hours })
			}
		} else if l.Recorded {
			l.Facts = []string{"the work is recorded"}
		} else {
			l.Loud = []string{"no longer in the plan: look at the boat, or cancel the booking"}
		}
		l.stands(p)
		if l.Came {
			earlier.Rows = append(earlier.Rows, l)
		} else {
			comes.Rows = append(comes.Rows, l)
		}
	}
	comes.About = words.Plural(len(comes.Rows), "boat", "boats")
	for _, sec := range []daySection{earlier, comes} {
		if len(sec.Rows) > 0 {
			p.Sections = append(p.Sections, sec)
		}
	}
	return nil
}

// stands says how a visit stands and what can be done about it.
func (l *dayLine) stands(p *dayPage) {
	l.Came, l.Timed = l.Booking.Day < p.Day, l.Stage == store.StageHere || l.Stage == store.StageReady
	switch l.Stage {
	case store.StageHere:
		l.State, l.Next, l.Other, l.Back = "here", press{store.StageReady, "Ready"}, press{store.StageWaiting, "Waits for parts"}, press{store.StageBooked, "Not here after all"}
	case store.StageWaiting:
		l.State, l.Next, l.Other = "waiting for parts", press{store.StageReady, "Ready"}, press{store.StageHere, "Parts are here"}
	case store.StageReady:
		l.State, l.Next, l.Other = "ready", press{store.StagePickedUp, "Picked up"}, press{store.StageHere, "Not ready"}
	case store.StagePickedUp:
		l.State, l.Other = "picked up", press{store.StageReady, "Not picked up"}
	default:
		l.State, l.Next = "● booked", press{store.StageHere, "Here"}
	}
	if l.Visit == nil {
		return
	}
	base, q := "/boats/"+url.PathEscape(l.Boat.ID), "?"+url.Values{"visit": {l.VisitID}, "back": {p.Back}}.Encode()
	l.Do = []action{{base + "/work" + q, "Tick jobs", "of " + l.Boat.Title()}, {base + "/sheet" + q, "Sheet", "for " + l.Boat.Title()}}
}

// pressed moves a visit to the stage of the button, or gives it to a technician.
func (s pages) pressed(r *http.Request) (site.Response, error) {
	id, back := r.PostFormValue("visit"), site.OwnPath(r.PostFormValue("back"))
	boat, err := s.App.DB.Boat(r.Context(), r.PostFormValue("boat"))
	if err != nil {
		return site.Response{}, err
	}
	note := ""
	if do := r.PostFormValue("do"); do == "assign" {
		technician := r.PostFormValue("technician")
		err = s.App.AssignVisit(r.Context(), s.Now(), site.Actor(r), id, technician)
		note = boat.Title() + ": " + cmp.Or(technician, "nobody yet") + "."
	} else {
		err = s.App.SetStage(r.Context(), s.Now(), site.Actor(r), id, store.Stage(r.PostFormValue("was")), store.Stage(do))
		note = boat.Title() + " is " + site.StageWords(store.Stage(do)) + "."
	}
	switch {
	case errors.Is(err, store.ErrStale):
		note = boat.Title() + ": somebody changed it meanwhile. This is how it stands now."
	case errors.Is(err, store.ErrNotFound):
		note = boat.Title() + " is no longer booked."
	case err != nil:
		if why, ok := site.Refused(err); ok {
			return site.Response{}, site.NewProblem(http.StatusUnprocessableEntity, why.Words())
		}
		return site.Response{}, err
	}
	return site.Response{To: back, Note: note}, nil
}
