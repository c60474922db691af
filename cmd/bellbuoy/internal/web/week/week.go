package week

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

const (
	// weekFew is how many visits of each part the whole week shows, with weekRest
	// more where those are all: a link to one or two is not worth its line. weekMany is
	// how many a page of one part, and weekPrint how many of each part the paper
	// for the wall: no page grows with the fleet.
	weekFew, weekRest, weekMany, weekPrint = 8, 2, 30, 250
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
	All        bool            // with every row, for the wall
	Kind       string
	Kinds      []weekKind
	Orders     []weekKind // of what is overdue
	Sort       string
	Tally      []weekTally
	Sections   []weekSection
	DeskFeed   string    // "" but on the first page
	Whole      string    // address of the whole week on one page, for the wall
	Back       string    // this page, for forms to return to
	Late       *latePart // visits that will miss their deadline, nil for none; of the present week
	MayBook    bool
	Freeze     *weekFreeze // on the present week's page, nil if no night is worth a look
	Sheets     civil.Day   // whose work sheets are printed next, on the present week's page
	Batteries  int         // boats in storage whose batteries are to be charged this week
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
	N           string
	Rows        []weekLine
	More        string // address of the rest, "" if this is all
	Rest        string // how many are not shown, "12 more", where that is known
}

// latePart is how many visits will miss their deadline, and which weeks are short.
type latePart struct {
	Visits int
	Words  string
}

// weekWords words the parts.
func weekWords(p report.WeekPart) weekSection {
	all := map[report.WeekPart]weekSection{
		report.WeekOverdue:     {Name: "Overdue", About: "past the deadline, not booked"},
		report.WeekDayPassed:   {Name: "Day passed", About: "booked, and nothing recorded yet"},
		report.WeekHere:        {Name: "Still with us", About: "booked for an earlier day; here, waiting for parts or ready"},
		report.WeekBooked:      {Name: "Booked", About: "comes in on a fixed day"},
		report.WeekPencilled:   {Name: "Penciled in", About: "fits this week; nobody has confirmed it"},
		report.WeekDue:         {Name: "Due", About: "something falls due this week; the visit is planned for another"},
		report.WeekWaiting:     {Name: "Waiting for a reply", About: "the customer was reminded and has not replied"},
		report.WeekOwner:       {Name: "The owner's own", About: "the owner does this: it falls due this week, or its day has passed and law or safety asks for it"},
		report.WeekLapsed:      {Name: "Lapsed", About: "overdue, and no sale, record, reply, booking or reading since the winterization deadline before the last: no hours are held for it"},
		report.WeekUnreachable: {Name: "Cannot be reached", About: "it is time to remind the owner, and email does not get there; the call list has the numbers"},
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
	q.Sort = report.WeekSort(r.FormValue("sort"))
	for _, o := range []weekKind{{string(report.SortDanger), "most urgent", ""}, {string(report.SortLate), "most days late", ""}, {string(report.SortPrice), "most money", ""}} {
		o.URL = sorted(weekURL(q, report.WeekOverdue, q.Kind, ""), o.Code)
		p.Orders = append(p.Orders, o)
	}
	p.Sort = string(q.Sort)
	who, _ := site.StaffOf(r)
	p.MayBook = who.Level() >= site.Desk
	p.All = r.FormValue("all") != ""
	p.Whole = weekURL(q, "", q.Kind, "") + "&all=1"
	if err := s.fillWeek(r.Context(), &p, q, r.FormValue("after")); err != nil {
		return site.Response{}, err
	}
	var err error
	if p.Now && p.Part == "" {
		if p.Freeze, err = s.weekFreeze(r, p.MayBook, p.Back); err != nil {
			return site.Response{}, err
		}
	}
	if p.Batteries, err = s.App.ChargeBoats(r.Context(), q.Week, s.Today()); err != nil {
		return site.Response{}, err
	}
	if p.Now {
		if p.Sheets, err = s.App.NextWorkday(r.Context(), s.Today()); err != nil {
			return site.Response{}, err
		}
	}
	if p.Now && p.Part == "" {
		if p.Late, err = s.lateOf(r.Context()); err != nil {
			return site.Response{}, err
		}
	}
	if r.URL.RawQuery == "" { // an address that is its own key stands on no page that repeats what was asked
		p.DeskFeed, err = s.App.FeedURL(r.Context(), link.ScopeDesk, "")
	}
	return site.Response{Page: "week.html", Data: &p}, err
}

// fillWeek reads the counts and the sections: of the whole week the first few
// of each part, of one part a page.
func (s pages) fillWeek(ctx context.Context, p *weekPage, q report.WeekQuery, after string) error {
	q.Part, q.Limit, q.Most = p.Part, weekFew+weekRest, weekMost
	switch {
	case p.All:
		q.Limit = weekPrint
	case p.Part != "":
		q.Limit, q.After = weekMany, after
	}
	all, err := s.App.DueWeek(ctx, q)
	if err != nil {
		return err
	}
	for i := range all {
		if all[i].More && q.Limit == weekFew+weekRest {
			all[i].Rows = all[i].Rows[:weekFew]
		}
	}
	places, err := s.App.Places(ctx)
	if err != nil {
		return err
	}
	replies, err := s.repliesOfWeek(ctx, all)
	if err != nil {
		return err
	}
	p.Kinds = []weekKind{{"", "every visit", weekURL(q, p.Part, "", "")}}
	for _, k := range []string{schedule.LayUp, schedule.FitOut, schedule.Extra, schedule.Winter} {
		p.Kinds = append(p.Kinds, weekKind{k, schedule.VisitTitle(k), weekURL(q, p.Part, k, "")})
	}
	p.Tally = []weekTally{{Name: "all", URL: weekURL(q, "", q.Kind, ""), Here: p.Part == ""}}
	for i := range all {
		sec := s.weekSection(&all[i], q, &rowWords{pages: s, places: places, replies: replies, back: p.Back, mayBook: p.MayBook})
		if p.All { // paper has nothing to press or to open
			for j := range sec.Rows {
				sec.Rows[j].Do, sec.Rows[j].Jobs = nil, nil
			}
		}
		if all[i].Count > 0 || p.Part == sec.WeekPart {
			p.Tally = append(p.Tally, weekTally{words.LowerFirst(sec.Name), sec.N, weekURL(q, sec.WeekPart, q.Kind, ""), p.Part == sec.WeekPart})
		}
		if p.Part == sec.WeekPart || p.Part == "" && len(sec.Rows) > 0 {
			p.Sections = append(p.Sections, sec)
		}
	}
	return nil
}

// lateOf says how many visits will miss their deadline, nil for none.
func (s pages) lateOf(ctx context.Context) (*latePart, error) {
	late, err := s.App.Late(ctx, s.Today())
	if err != nil || len(late.Visits) == 0 && len(late.Weeks) == 0 {
		return nil, err
	}
	return &latePart{len(late.Visits), late.Words(s.Format())}, nil
}

// repliesOfWeek words what owners answered about the visits of a week, by visit. A
// day that was taken shows as a booking.
func (s pages) repliesOfWeek(ctx context.Context, sections []report.WeekSection) (map[string]string, error) {
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
func (s pages) weekSection(in *report.WeekSection, q report.WeekQuery, w *rowWords) weekSection {
	sec := weekWords(in.Part)
	sec.N = strconv.Itoa(in.Count)
	if in.Count >= weekMost {
		sec.N += "+"
	}
	for i := range in.Rows {
		sec.Rows = append(sec.Rows, w.line(&in.Rows[i], in.Part))
	}
	if rest := in.Count - len(in.Rows); in.More && q.After == "" && in.Count < weekMost {
		sec.Rest = strconv.Itoa(rest) + " more"
	}
	switch {
	case in.More && q.Part == in.Part:
		sec.More = sorted(weekURL(q, in.Part, q.Kind, in.Rows[len(in.Rows)-1].Key), string(q.Sort))
	case in.More:
		sec.More = sorted(weekURL(q, in.Part, q.Kind, ""), string(q.Sort))
	}
	return sec
}

// sorted adds the order of what is overdue to an address.
func sorted(url, order string) string {
	if order == "" {
		return url
	}
	return url + "&sort=" + order
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
