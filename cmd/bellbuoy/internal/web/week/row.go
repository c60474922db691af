package week

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"unicode/utf8"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
	"bellbuoy/store/report"
)

// weekLine is one visit as the desk reads it, in two lines: the boat and its
// owner, then what it is and the few facts that differ.
type weekLine struct {
	report.WeekRow
	By    string    // "by" before a day that is a deadline
	Day   civil.Day // for the gutter
	State string    // under it, with its sign
	Late  bool
	Lead  string   // what it is
	Facts []string // how much, and why where that is not the rule
	Loud  []string // what somebody must know: what the owner said, why email does not get there
	Why   string   // the visit's own time in a sentence
	Jobs  []weekJob
	Do    []action // the next act first
}

// Book is the act that books the row's visit, nil for none.
func (l *weekLine) Book() *action {
	for i := range l.Do {
		if l.Do[i].Name == "Book" || l.Do[i].Name == "Move" {
			return &l.Do[i]
		}
	}
	return nil
}

type weekJob struct {
	Title   string
	Due     civil.Day
	Covered bool
	guards  bool   // law or safety asks for it
	why     string // "law" or "safety", "" for neither
}

// action is a link of a row.
type action struct{ URL, Name, About string }

// rowWords words the rows of a list.
type rowWords struct {
	pages
	places  app.Places
	replies map[string]string // what owners answered, by visit
	back    string            // the list's address, for forms to return to
	mayBook bool
}

// line words one row.
func (w *rowWords) line(row *report.WeekRow, part report.WeekPart) weekLine {
	v := &row.Visit
	l := weekLine{WeekRow: *row, Day: site.ShownDay(*v), Jobs: w.jobs(row)}
	l.stands(part, w.Today(), w.Format())
	w.facts(&l, part)
	l.Do = w.acts(row, part)
	if part != report.WeekOwner {
		l.Why = w.App.Planner.VisitWhy(v, w.places.Of(row.Boat.Place))
	}
	return l
}

// stands says in the gutter how the visit stands: its day, and its state.
func (l *weekLine) stands(part report.WeekPart, today civil.Day, in words.Format) {
	v := &l.Visit
	switch {
	case part == report.WeekOwner:
		l.Day, l.State = v.Day, "☐ due"
		if l.Late = v.Deadline < today; l.Late {
			l.State = "▲ overdue"
		}
	case v.Booked() && l.Stage.InYard():
		l.State = site.StageWords(l.Stage)
	case part == report.WeekDayPassed:
		l.State, l.Late = "? day passed", true
	case v.Booked():
		l.State = "● booked"
		if m := v.Booking.Minute; m >= 0 {
			l.State = "● " + in.Clock(m)
		}
	case v.Deadline < today:
		l.State, l.Day, l.Late = "▲ overdue", v.Deadline, true
	default:
		l.By, l.Day = "by", v.Deadline
		switch {
		case v.Week == 0:
			l.State = "○ no week yet"
		case v.Told:
			l.State = "◌ reminded"
		default:
			l.State = "◐ penciled in"
		}
	}
}

// deskChose is the fact of a visit whose week the desk set.
const deskChose = "the desk chose this week"

// leadRoom is how many characters of a row the names of jobs may take.
const leadRoom = 60

// facts fills in what the visit is, how much, and what differs from the rule.
func (w *rowWords) facts(l *weekLine, part report.WeekPart) {
	v := &l.Visit
	var own []weekJob
	for _, j := range l.Jobs {
		if !j.Covered {
			own = append(own, j)
		}
	}
	switch {
	case v.Kind == schedule.LayUp || v.Kind == schedule.FitOut || v.Kind == schedule.Winter:
		l.Lead = schedule.VisitTitle(v.Kind)
		if len(l.Jobs) > 0 {
			l.add(words.Plural(len(l.Jobs), "job", "jobs"))
		}
	case len(own) == 0:
		l.Lead = schedule.VisitTitle(v.Kind)
	default:
		// What law or safety asks for is what the visit is about.
		slices.SortStableFunc(own, func(x, y weekJob) int { return cmp.Compare(y.rank(), x.rank()) })
		l.Lead = own[0].Title
		n := 1
		for n < len(own) && utf8.RuneCountInString(l.Lead+own[n].Title) <= leadRoom {
			l.Lead += "; " + words.LowerFirst(own[n].Title)
			n++
		}
		if n < len(own) {
			l.add(fmt.Sprintf("and %d more", len(own)-n))
		}
		if part == report.WeekOverdue {
			l.add(own[0].why)
		}
	}
	if part == report.WeekOwner {
		l.add("the owner does it")
	}
	if v.Labour > 0 {
		l.add(w.Format().Labor(v.Labour) + " h")
	}
	l.add(w.About(v.Price))
	if part == report.WeekDue || part == report.WeekWaiting || part == report.WeekUnreachable {
		if v.Week != 0 {
			l.add("planned for the week of " + w.LogDay(v.Week.Monday()))
		}
	}
	if l.Pinned {
		l.add(deskChose)
	} else {
		l.add(w.moved(v))
	}
	if v.NothingLeft() {
		l.Loud = append(l.Loud, "nothing is left to do: ask, or cancel the booking")
	}
	if !v.Booked() && v.Missed != 0 {
		l.Loud = append(l.Loud, "was booked for "+w.LogDay(v.Missed)+"; no work is recorded")
	}
	if said := w.replies[v.ID]; said != "" {
		l.Loud = append(l.Loud, "the owner "+said)
	}
	if l.NoMail != "" {
		l.Loud = append(l.Loud, l.NoMail)
	}
}

// moved says why an unbooked visit is not in the week that would suit it best, or
// that it had.
func (w *rowWords) moved(v *schedule.Visit) string {
	if v.Booked() || v.Lapsed {
		return ""
	}
	from := "moved from " + w.LogDay(v.WeekWhy.Prior.Monday())
	switch v.WeekWhy.Reason {
	case level.Nearest:
		return "the week of " + w.LogDay(v.WeekWhy.Wish.Monday()) + " is full or closed"
	case level.NewWindow:
		return from
	case level.LostHours:
		return from + ": too few hours left there"
	case level.MadeRoom:
		return from + ": another boat can be in time there"
	case level.Evened:
		return from + ": that week was much fuller"
	case level.NoHours:
		if v.Week == 0 {
			return "no hours left in time"
		}
		return "no hours left before the week of " + w.LogDay(v.Week.Monday())
	case level.Closed:
		return "closed in every week by " + w.LogDay(v.Deadline)
	case level.TooLong:
		return "needs more hours than any week has"
	}
	return ""
}

func (j *weekJob) rank() int {
	if j.guards {
		return 1
	}
	return 0
}

func (l *weekLine) add(fact string) {
	if fact != "" {
		l.Facts = append(l.Facts, fact)
	}
}

// acts are what the desk does next about a row, first what is most likely.
func (w *rowWords) acts(row *report.WeekRow, part report.WeekPart) []action {
	v := &row.Visit
	base := "/boats/" + url.PathEscape(row.Boat.ID)
	q := "?" + url.Values{"visit": {v.ID}, "back": {w.back}}.Encode()
	record := action{base + "/record" + q, "Record", "work on " + row.Boat.Title()}
	sheet := action{base + "/sheet" + q, "Sheet", "for " + row.Boat.Title()}
	if !w.mayBook {
		if v.ID == "" {
			return []action{record}
		}
		return []action{record, sheet}
	}
	book := action{base + "/book" + q, "Book", row.Boat.Title()}
	if v.Booked() {
		book.Name = "Move"
	}
	acts := []action{book, record}
	switch part {
	case report.WeekDayPassed:
		acts = []action{record, book}
	case report.WeekBooked, report.WeekHere:
		return []action{record, book, sheet}
	case report.WeekOwner:
		acts = []action{record}
	}
	if row.Owner.ID == "" {
		return acts
	}
	call := action{base + "/call" + q, "Call note", "about " + row.Boat.Title()}
	if part == report.WeekUnreachable {
		return append([]action{call}, acts...)
	}
	return append(acts, call)
}

func (w *rowWords) jobs(row *report.WeekRow) (jobs []weekJob) {
	for _, j := range row.Jobs {
		job := weekJob{Title: j.Title, Due: j.Due, Covered: j.Covered, guards: j.Title != ""}
		if rule, ok := w.App.Planner.Catalogue().Rule(j.Rule); ok {
			job.guards = rule.Guards()
			switch {
			case rule.Legal:
				job.why = "law"
			case rule.Safety:
				job.why = "safety"
			}
			job.Title = cmp.Or(job.Title, rule.Title)
		}
		job.Title = cmp.Or(job.Title, j.Rule)
		if j.Label != "" {
			job.Title += " (" + j.Label + ")"
		}
		jobs = append(jobs, job)
	}
	return jobs
}
