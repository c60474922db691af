package week

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

const (
	// weeksShown is how far the load picture reaches.
	weeksShown = 40
	// weekVisitsMost is how many visits of one week are listed at once.
	weekVisitsMost = 60
)

// weeksPage is the shop's weeks.
type weeksPage struct {
	Loads []loadLine
	Open  *openWeek // the week whose visits are listed, nil for none
	Late  *latePart // visits that will miss their deadline, nil for none
	Over  int       // weeks that are over
	// Whether the settings give hours of the yard crew, and lifts.
	YardHours, Lifts bool
	Absences         []store.Absence
	Closed           []store.ClosedDay
	Holidays         []civil.Day // of the settings
	Crew             []string
	Today            civil.Day
	MayEdit          bool
	Fault            string
}

// loadLine is one week's load, in minutes.
type loadLine struct {
	Week                       civil.Week
	Clocked, Available, Target int // what is paid, what of it is for visits, what of that the plan fills
	Booked, Pencilled          int
	Share                      int // percent of what is available
	Over                       int // minutes over
	Short                      int // minutes that are lacking for every visit to be in time
	State                      string

	// The yard, where the settings say what it has.
	Yard, YardTaken, Lifts, LiftsTaken int
}

// YardOver reports whether the week holds more than the yard has.
func (l *loadLine) YardOver() bool { return l.YardTaken > l.Yard || l.LiftsTaken > l.Lifts }

type openWeek struct {
	Week civil.Week
	Rows []weekLine
	More string // key of the next page
}

func (s pages) weeks(r *http.Request) (site.Response, error) { return s.weeksAgain(r, nil) }

func (s pages) weeksAgain(r *http.Request, why site.Refusals) (site.Response, error) {
	today := s.Today()
	p := weeksPage{Fault: why.Words(), Today: today}
	who, _ := site.StaffOf(r)
	p.MayEdit = who.Level() >= site.Desk
	for _, t := range s.App.Config.Weeks.Technicians {
		p.Crew = append(p.Crew, t.Name)
	}
	p.YardHours, p.Lifts = len(s.App.Config.Yard.CrewHours) > 0, len(s.App.Config.Yard.Lifts) > 0
	var err error
	if p.Loads, err = s.loads(r.Context(), today); err != nil {
		return site.Response{}, err
	}
	for _, l := range p.Loads {
		if l.Over > 0 || l.YardOver() {
			p.Over++
		}
	}
	if err := s.fillOff(r.Context(), &p, today); err != nil {
		return site.Response{}, err
	}
	if w, err := civil.ParseWeek(r.FormValue("week")); err == nil {
		if p.Open, err = s.openWeek(r, w); err != nil {
			return site.Response{}, err
		}
	}
	if p.Late, err = s.lateOf(r.Context()); err != nil {
		return site.Response{}, err
	}
	return site.Response{Page: "weeks.html", Data: &p, Refused: why}, nil
}

// loads reads the kept load of the coming weeks beside their capacity.
func (s pages) loads(ctx context.Context, today civil.Day) ([]loadLine, error) {
	first := today.Week()
	capacity, err := s.App.CapacityLeft(ctx, today, first, first+weeksShown-1)
	if err != nil {
		return nil, err
	}
	kept, err := s.App.DB.WeekLoads(ctx, first, first+weeksShown-1)
	if err != nil {
		return nil, err
	}
	late, err := s.App.Late(ctx, today)
	if err != nil {
		return nil, err
	}
	short := make(map[civil.Week]int)
	for _, w := range late.Weeks {
		short[w.Week] = w.Short
	}
	by := make(map[civil.Week]store.WeekLoad, len(kept))
	for _, k := range kept {
		by[k.Week] = k
	}
	var out []loadLine
	for _, c := range capacity {
		l := loadLine{Week: c.Week, Short: short[c.Week], Clocked: c.Clocked, Available: c.Total()[level.Labor], Booked: by[c.Week].Booked[level.Labor], Pencilled: by[c.Week].Pencilled[level.Labor]}
		yard := by[c.Week].Booked.Plus(by[c.Week].Pencilled)
		l.Yard, l.YardTaken = c.Total()[level.Yard], yard[level.Yard]
		l.Lifts, l.LiftsTaken = c.Total()[level.Lifts], yard[level.Lifts]
		l.Target = int(float64(l.Available)*s.App.Config.Weeks.Target + 0.5)
		taken := l.Booked + l.Pencilled
		if l.Available > 0 {
			l.Share = (100*taken + l.Available/2) / l.Available
		}
		l.Over = max(0, taken-l.Available)
		switch {
		case l.Available <= 0 && taken == 0:
			l.State = "closed"
		case l.Over > 0 || l.YardOver():
			l.State = "over"
		case l.Short > 0:
			l.State = "short"
		case l.Share >= 90 || l.Lifts > 0 && 10*l.LiftsTaken >= 9*l.Lifts || l.Yard > 0 && 10*l.YardTaken >= 9*l.Yard:
			l.State = "full"
		case taken == 0:
			l.State = "empty"
		default:
			l.State = "room"
		}
		out = append(out, l)
	}
	return out, nil
}

// fillOff reads time off and closed days from today on.
func (s pages) fillOff(ctx context.Context, p *weeksPage, today civil.Day) (err error) {
	if p.Absences, err = s.App.DB.Absences(ctx, today); err != nil {
		return err
	}
	p.Holidays = s.App.Config.Closed(today, today+weeksShown*7)
	p.Closed, err = s.App.DB.ClosedDays(ctx, today)
	return err
}

func (s pages) openWeek(r *http.Request, w civil.Week) (*openWeek, error) {
	o := &openWeek{Week: w}
	found, err := s.App.DB.Visits(r.Context(), store.VisitQuery{From: w, To: w, After: r.FormValue("after"), Limit: weekVisitsMost + 1})
	if err != nil {
		return nil, err
	}
	if len(found) > weekVisitsMost {
		found = found[:weekVisitsMost]
		o.More = found[weekVisitsMost-1].Key
	}
	ids := make([]string, len(found))
	for i := range found {
		ids[i] = found[i].Visit.ID
	}
	o.Rows, err = s.visitLines(r, ids, "/weeks?week="+w.String()+"#open")
	return o, err
}

// editWeeks takes the forms for time off and closed days.
func (s pages) editWeeks(r *http.Request) (site.Response, error) {
	note, did, err := s.editOff(r)
	if why, ok := site.Refused(err); ok {
		return s.weeksAgain(r, why)
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/weeks", Note: s.Also(note, &did)}, nil
}

func (s pages) editOff(r *http.Request) (note string, did app.Change, err error) {
	ctx, now, by := r.Context(), s.Now(), site.Actor(r)
	from, err := site.FormDay(r, "from", "From", 0)
	if err != nil {
		return "", did, err
	}
	to, err := site.FormDay(r, "to", "To", from)
	if err != nil {
		return "", did, err
	}
	why := strings.TrimSpace(r.PostFormValue("why"))
	switch r.PostFormValue("do") {
	case "absent":
		name := r.PostFormValue("technician")
		switch {
		case from == 0:
			return "", did, site.At("from", "Time off: give the first day.")
		case to < from:
			return "", did, site.At("to", "Time off: the last day is before the first.")
		}
		note = name + " is off " + s.dayRange(from, to) + "."
		did, err = s.App.AddAbsence(ctx, now, by, store.Absence{Technician: name, From: from, To: to, Why: why})
	case "present":
		id, notOne := strconv.ParseInt(r.PostFormValue("id"), 10, 64)
		if notOne != nil {
			return "", did, site.Correct("The form lacks which time off it means.")
		}
		note = "The time off is taken back."
		did, err = s.App.RemoveAbsence(ctx, now, by, id)
	case "close":
		if from == 0 {
			return "", did, site.At("from", "Closed day: give the day.")
		}
		note = "The shop is closed on " + s.Format().Date(from) + "."
		did, err = s.App.CloseDay(ctx, now, by, store.ClosedDay{Day: from, Why: why})
	case "open":
		note = "The shop is open on " + s.Format().Date(from) + " again."
		did, err = s.App.OpenDay(ctx, now, by, from)
	default:
		err = site.Correct("The form is incomplete. Press one of its buttons.")
	}
	return note, did, err
}

func (s pages) dayRange(from, to civil.Day) string {
	if from == to {
		return "on " + s.Format().Date(from)
	}
	return "from " + s.Format().Date(from) + " to " + s.Format().Date(to)
}
