package week

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

const (
	// weekFew is how many visits of each part the whole week shows, weekMany
	// how many a page of one part: no page grows with the fleet.
	weekFew, weekMany = 8, 30
	// weekMost is where counting ends: a list that long is worked through from
	// its beginning, whatever its length.
	weekMost = 300
)

// weekPage is this week's due list.
type weekPage struct {
	Week       civil.Week
	Now        bool // it is the present week
	Prev, Next civil.Week
	Part       report.WeekPart // "" for the whole week
	Kind       string
	Kinds      []weekKind
	Tally      []weekTally
	Sections   []weekSection
	DeskFeed   string
	Back       string // this page, for forms to return to
	MayBook    bool
	Batteries  int // boats in storage whose batteries are to be charged this week
}

type weekKind struct{ Code, Name, URL string }

type weekTally struct {
	Name string
	N    string
	URL  string
	Here bool
}

type weekSection struct {
	report.WeekPart
	Name, About string
	Mark        string // a sign beside the state's word, so that colour is never alone
	N           string
	Rows        []weekLine
	More        string // address of the rest, "" if this is all
	Rest        string // how many are not shown, "12 more", where that is known
}

// weekLine is one visit as the desk reads it.
type weekLine struct {
	report.WeekRow
	Title, Why string
	Day        civil.Day // for the gutter
	State      string    // in a word
	Said       string    // what the owner answered about it, "" for nothing
	Jobs       []weekJob
}

type weekJob struct {
	Title   string
	Due     civil.Day
	Covered bool
}

// weekWords words the parts.
func weekWords(p report.WeekPart) weekSection {
	all := map[report.WeekPart]weekSection{
		report.WeekOverdue:     {Name: "Overdue", Mark: "▲", About: "Past the last good day, and not booked."},
		report.WeekDayPassed:   {Name: "Day passed", Mark: "?", About: "The booked day is over and no work is recorded. Record the work, or book another day."},
		report.WeekBooked:      {Name: "Booked", Mark: "●", About: "Comes in on a fixed day of this week."},
		report.WeekPencilled:   {Name: "Pencilled", Mark: "◐", About: "Fits this week; nobody has confirmed it."},
		report.WeekDue:         {Name: "Due", Mark: "○", About: "Something falls due this week; the visit is planned for another."},
		report.WeekWaiting:     {Name: "Waiting for an answer", Mark: "◌", About: "The customer was told a week and has not answered."},
		report.WeekOwner:       {Name: "The owner's own", Mark: "☐", About: "The owner does this himself: it falls due this week, or its day has passed and law or safety asks for it."},
		report.WeekUnreachable: {Name: "Cannot be reached", Mark: "✕", About: "It is time to tell the owner, and mail does not get there. The phone round has the numbers."},
	}
	s := all[p]
	s.WeekPart = p
	return s
}

func (s pages) week(r *http.Request) (site.Response, error) {
	this := s.Today().Week()
	q := report.WeekQuery{Week: this, Today: s.Today(), Kind: r.FormValue("kind")}
	if v := r.FormValue("week"); v != "" {
		w, err := civil.ParseWeek(v)
		if err != nil {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "That week could not be read. Weeks are written like 2027-W18.")
		}
		q.Week = w
	}
	p := weekPage{Week: q.Week, Now: q.Week == this, Prev: q.Week - 1, Next: q.Week + 1, Kind: q.Kind, Back: r.URL.RequestURI()}
	p.Part = report.WeekPart(r.FormValue("part"))
	who, _ := site.StaffOf(r)
	p.MayBook = who.Level() >= site.Desk
	if err := s.fillWeek(r.Context(), &p, q, r.FormValue("after")); err != nil {
		return site.Response{}, err
	}
	var err error
	if p.Batteries, err = s.App.ChargeBoats(r.Context(), q.Week, s.Today()); err != nil {
		return site.Response{}, err
	}
	p.DeskFeed, err = s.App.FeedURL(r.Context(), link.ScopeDesk, "")
	return site.Response{Page: "week.html", Data: &p}, err
}

// fillWeek reads the counts and the sections: of the whole week the first few
// of each part, of one part a page.
func (s pages) fillWeek(ctx context.Context, p *weekPage, q report.WeekQuery, after string) error {
	q.Part, q.Limit, q.Most = p.Part, weekFew, weekMost
	if p.Part != "" {
		q.Limit, q.After = weekMany, after
	}
	all, err := s.App.DueWeek(ctx, q)
	if err != nil {
		return err
	}
	places, err := s.App.Places(ctx)
	if err != nil {
		return err
	}
	said, err := s.saidOfWeek(ctx, all)
	if err != nil {
		return err
	}
	p.Kinds = []weekKind{{"", "every visit", weekURL(q, p.Part, "", "")}}
	for _, k := range []string{schedule.LayUp, schedule.FitOut, schedule.Extra} {
		p.Kinds = append(p.Kinds, weekKind{k, schedule.VisitTitle(k), weekURL(q, p.Part, k, "")})
	}
	p.Tally = []weekTally{{Name: "All", URL: weekURL(q, "", q.Kind, ""), Here: p.Part == ""}}
	for i := range all {
		sec := s.weekSection(&all[i], q, places)
		for k := range sec.Rows {
			sec.Rows[k].Said = said[sec.Rows[k].Visit.ID]
		}
		p.Tally = append(p.Tally, weekTally{sec.Name, sec.N, weekURL(q, sec.WeekPart, q.Kind, ""), p.Part == sec.WeekPart})
		if p.Part == sec.WeekPart || p.Part == "" && len(sec.Rows) > 0 {
			p.Sections = append(p.Sections, sec)
		}
	}
	return nil
}

// saidOfWeek words what owners answered about the visits of a week, by visit. A
// day that was taken shows as a booking.
func (s pages) saidOfWeek(ctx context.Context, sections []report.WeekSection) (map[string]string, error) {
	var owners []string
	for _, sec := range sections {
		for i := range sec.Rows {
			owners = append(owners, sec.Rows[i].Owner.ID)
		}
	}
	slices.Sort(owners)
	owners = slices.Compact(owners)
	if len(owners) == 0 {
		return nil, nil // no ids would mean all
	}
	all, err := s.App.DB.Answers(ctx, owners)
	if err != nil {
		return nil, err
	}
	said := make(map[string]string)
	for _, answers := range all {
		for _, a := range answers {
			if a.VisitID == "" || a.Kind == schedule.AnswerTake || a.Kind == schedule.AnswerCall && a.Seen {
				continue
			}
			said[a.VisitID] = s.AnswerRow(&store.OpenAnswer{Answer: a}).Words
		}
	}
	return said, nil
}

// weekSection words one part.
func (s pages) weekSection(in *report.WeekSection, q report.WeekQuery, places app.Places) weekSection {
	sec := weekWords(in.Part)
	sec.N = strconv.Itoa(in.Count)
	if in.Count >= weekMost {
		sec.N += "+"
	}
	for i := range in.Rows {
		sec.Rows = append(sec.Rows, s.weekLine(&in.Rows[i], in.Part, places))
	}
	if rest := in.Count - len(in.Rows); in.More && q.After == "" && in.Count < weekMost {
		sec.Rest = strconv.Itoa(rest) + " more"
	}
	switch {
	case in.More && q.Part == in.Part:
		sec.More = weekURL(q, in.Part, q.Kind, in.Rows[len(in.Rows)-1].Key)
	case in.More:
		sec.More = weekURL(q, in.Part, q.Kind, "")
	}
	return sec
}

// weekLine words one row.
func (s pages) weekLine(row *report.WeekRow, part report.WeekPart, places app.Places) weekLine {
	v := &row.Visit
	if part == report.WeekOwner {
		return s.ownerLine(row)
	}
	l := weekLine{WeekRow: *row, Title: schedule.VisitTitle(v.Kind), Why: schedule.VisitWhy(v, places.Of(row.Boat.Place)), Day: site.ShownDay(*v)}
	switch {
	case part == report.WeekDayPassed:
		l.State = "day passed"
	case v.Booked():
		l.State = "booked"
	case part == report.WeekOverdue:
		l.State, l.Day = "overdue", v.Deadline
	case v.Week == 0:
		l.State = "no week yet"
	case v.Told:
		l.State = "told"
	default:
		l.State = "pencilled"
	}
	l.Jobs = s.weekJobs(row)
	return l
}

// ownerLine words a row of what a boat's owner sees to himself.
func (s pages) ownerLine(row *report.WeekRow) weekLine {
	l := weekLine{WeekRow: *row, Title: app.OwnersJobs, Day: row.Visit.Day, State: "due", Jobs: s.weekJobs(row)}
	if row.Visit.Deadline < s.Today() {
		l.State = "overdue"
	}
	return l
}

func (s pages) weekJobs(row *report.WeekRow) (jobs []weekJob) {
	for _, j := range row.Jobs {
		title := j.Title
		if title == "" {
			title = j.Rule
			if rule, ok := s.App.Planner.Catalogue().Rule(j.Rule); ok {
				title = rule.Title
			}
		}
		if j.Label != "" {
			title += " (" + j.Label + ")"
		}
		jobs = append(jobs, weekJob{title, j.Due, j.Covered})
	}
	return jobs
}

// weekURL is the address of a view of a week.
func weekURL(q report.WeekQuery, part report.WeekPart, kind, after string) string {
	v := url.Values{"week": {q.Week.String()}}
	for key, val := range map[string]string{"part": string(part), "kind": kind, "after": after} {
		if val != "" {
			v.Set(key, val)
		}
	}
	return "/?" + v.Encode()
}
