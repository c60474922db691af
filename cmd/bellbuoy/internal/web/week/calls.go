package week

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

const (
	callsMany = 30  // calls on one page
	callsMost = 400 // customers that the list looks at: whoever comes later waits for those before
)

// Filters of the call list.
const (
	callsAsked    = "asked"     // asked for a call on their page
	callsLayUp    = "lay-up"    // about a winterization
	callsNoAnswer = "no-answer" // did not answer the phone or the final reminder
	callsLapsed   = "lapsed"    // about lapsed boats, which the other filters leave out
)

// callsPage is the call list.
type callsPage struct {
	Calls      []callLine // those who asked for a call come first
	Total      string     // how many calls there are of this filter
	Rest       int        // calls that rest after an earlier one
	Filters    []weekKind
	Show       string
	Prev, Next string // addresses of the pages before and after, "" for none
	Back       string
	// Wishes are customers whom the owner wants called, on the first page.
	Wishes []wishLine
	// Asked are the boats of whose winterization the desk asks whether it was
	// done, on the first page.
	Asked []askedLine
	// NothingLeft are the booked visits of which nothing is left to do, on the first page.
	NothingLeft []nothingLeftLine
	// Freeze are the places with an alarm whose owners are to be called, on the
	// first page: before all others.
	Freeze []freezePlace
}

// askedLine is one boat to ask about.
type askedLine struct {
	Customer schedule.Customer
	Boat     schedule.Boat
	Last     *store.Call // the newest call, nil if none
}

// nothingLeftLine is a booked visit whose owner is to be asked whether it stands.
type nothingLeftLine struct {
	store.VisitRow
	Last *store.Call // the newest call, nil if none
}

// callLine is one customer to call.
type callLine struct {
	app.CallRow
	Last  *store.Call // the newest call, nil if none
	Lines []weekLine  // the visits that it is about
	Note  string      // address of the form for a call note
}

func (s pages) phone(r *http.Request) (site.Response, error) {
	p := callsPage{Back: r.URL.RequestURI(), Show: r.FormValue("show")}
	all, more, err := s.calls(r.Context(), &p)
	if err != nil {
		return site.Response{}, err
	}
	all = slices.DeleteFunc(all, func(c callLine) bool { return !c.is(p.Show) })
	page, _ := strconv.Atoi(r.FormValue("page"))
	from := min(max(page, 0)*callsMany, len(all))
	p.Total = strconv.Itoa(len(all))
	if more {
		p.Total += "+"
	}
	to := min(from+callsMany, len(all))
	if from > 0 {
		p.Prev = callsURL(p.Show, page-1)
	}
	if to < len(all) {
		p.Next = callsURL(p.Show, page+1)
	}
	p.Calls = all[from:to]
	if err := s.wordCalls(r, &p); err != nil {
		return site.Response{}, err
	}
	for _, f := range []struct{ code, name string }{{"", "all"}, {callsAsked, "asked for a call"}, {callsLayUp, "winterization"}, {callsNoAnswer, "no answer yet"}, {callsLapsed, "lapsed"}} {
		p.Filters = append(p.Filters, weekKind{f.code, f.name, callsURL(f.code, 0)})
	}
	if from > 0 {
		return site.Response{Page: "phone.html", Data: &p}, nil
	}
	places, err := s.freezeOfWeek(r, app.FreezeTellings, true, p.Back)
	if err != nil {
		return site.Response{}, err
	}
	p.Freeze = slices.DeleteFunc(places, func(f freezePlace) bool { return len(f.Calls) == 0 })
	if p.Show == "" {
		if p.Wishes, err = s.wishes(r.Context()); err != nil {
			return site.Response{}, err
		}
		if err = s.addNothingLeft(r.Context(), &p); err != nil {
			return site.Response{}, err
		}
	}
	if p.Show == "" || p.Show == callsLayUp {
		err = s.addAskedBoats(r.Context(), &p)
	}
	return site.Response{Page: "phone.html", Data: &p}, err
}

func callsURL(show string, page int) string {
	q := url.Values{}
	if show != "" {
		q.Set("show", show)
	}
	if page > 0 {
		q.Set("page", strconv.Itoa(page))
	}
	if len(q) == 0 {
		return "/calls"
	}
	return "/calls?" + q.Encode()
}

// is reports whether a filter lets a call through.
func (c *callLine) is(show string) bool {
	switch show {
	case callsAsked:
		return c.Reason == notify.CallAsked
	case callsLayUp:
		return slices.ContainsFunc(c.Visits, func(v notify.NoticeVisit) bool { return v.Visit.Visit.Kind == schedule.LayUp })
	case callsNoAnswer:
		return c.Reason == notify.CallNoAnswer || c.Last != nil && (c.Last.Outcome == store.CallNoAnswer || c.Last.Outcome == store.CallMessage)
	case callsLapsed:
		return len(c.Visits) > 0 && !slices.ContainsFunc(c.Visits, func(v notify.NoticeVisit) bool { return !v.Visit.Visit.Lapsed })
	}
	return true
}

// calls gathers whom to call: first who asked for it, the longest waiting first,
// whatever their way of contact and whether or not anything is planned; then by
// danger and deadline. It counts those whom an earlier call lets rest, and says
// whether there are more than are inspected.
func (s pages) calls(ctx context.Context, p *callsPage) (all []callLine, more bool, err error) {
	asked, err := s.App.DB.OpenAnswers(ctx, schedule.AnswerCall, mostAsked)
	if err != nil {
		return nil, false, err
	}
	var ids []string
	newest := make(map[string]time.Time)
	for _, a := range asked {
		if newest[a.CustomerID].IsZero() {
			ids = append(ids, a.CustomerID)
		}
		newest[a.CustomerID] = a.At
	}
	// The policy has the last word; this only leaves out whom it cannot mean.
	until := (s.Today() + civil.Day(s.App.Config.Reminders.InvitationDays+7)).At(0, 0, s.App.Config.Zone())
	others, err := s.App.DB.CallCandidates(ctx, until, p.Show == callsLapsed, callsMost+1)
	if err != nil {
		return nil, false, err
	}
	if more = len(others) > callsMost; more {
		others = others[:callsMost]
	}
	for _, id := range others {
		if newest[id].IsZero() {
			ids = append(ids, id)
		}
	}
	rows, err := s.App.Calls(ctx, s.Now(), ids)
	for i := range rows {
		c := callLine{CallRow: rows[i]}
		if len(c.Earlier) > 0 {
			c.Last = &c.Earlier[0]
		}
		if s.restsNow(&c, newest[c.Customer.ID]) {
			p.Rest++
			continue
		}
		all = append(all, c)
	}
	return all, more, err
}

// restsNow reports whether an earlier call lets a call rest: one since it was asked
// for, or one about each of its visits; visits that rest are left out.
func (s pages) restsNow(c *callLine, asked time.Time) bool {
	if c.Reason == notify.CallAsked {
		return c.Last != nil && !c.Last.At.Before(asked) && restsAfter(c.Last, s.Now())
	}
	i := 0
	for k := range c.Visits {
		if !rests(c.Earlier, c.Visits[k].Visit.Visit.ID, s.Now()) {
			c.Visits[i], c.Rows[i] = c.Visits[k], c.Rows[k]
			i++
		}
	}
	c.Visits, c.Rows = c.Visits[:i], c.Rows[:i]
	return i == 0
}

// mostAsked is how many requests for a call the list reads.
const mostAsked = 500

// wordCalls words the visits of a page's calls. A call note is about the first of
// them, or about nothing planned.
func (s pages) wordCalls(r *http.Request, p *callsPage) error {
	w, err := s.rowWords(r, p.Back)
	if err != nil {
		return err
	}
	for i := range p.Calls {
		c := &p.Calls[i]
		q := "?" + url.Values{"back": {p.Back}}.Encode()
		c.Note = "/customers/" + url.PathEscape(c.Customer.ID) + "/call" + q
		for k := range c.Rows {
			l := w.line(&c.Rows[k], "")
			l.Loud = nil // why email does not get there is said of the customer
			c.Lines = append(c.Lines, l)
		}
		if len(c.Rows) > 0 {
			v := &c.Rows[0].Visit
			c.Note = "/boats/" + url.PathEscape(v.BoatID) + "/call?" + url.Values{"visit": {v.ID}, "back": {p.Back}}.Encode()
		}
	}
	return nil
}

// addAskedBoats adds the boats that nobody winterized, by the file. A question
// rests as a call does.
func (s pages) addAskedBoats(ctx context.Context, p *callsPage) error {
	all, err := s.App.DB.AskedBoats(ctx, "", callsMost)
	if err != nil || len(all) == 0 {
		return err
	}
	ids := make([]string, len(all))
	for i := range all {
		ids[i] = all[i].CustomerID
	}
	earlier, err := s.App.DB.CallsOf(ctx, ids, 20)
	if err != nil {
		return err
	}
	for _, a := range all {
		if len(p.Asked) == callsMany {
			break
		}
		calls := earlier[a.CustomerID]
		if rests(calls, fmt.Sprintf("%s.%s.%d", a.BoatID, schedule.LayUp, a.Season), s.Now()) {
			p.Rest++
			continue
		}
		l := askedLine{}
		if len(calls) > 0 {
			l.Last = &calls[0]
		}
		if l.Customer, err = s.App.DB.Customer(ctx, a.CustomerID); err != nil {
			return err
		}
		if l.Customer.ContactBy == "none" {
			continue // asked not to be called
		}
		if l.Boat, err = s.App.DB.Boat(ctx, a.BoatID); err != nil {
			return err
		}
		p.Asked = append(p.Asked, l)
	}
	return nil
}

// addNothingLeft adds the booked visits of which nothing is left to do. Each rests after a
// call as others do.
func (s pages) addNothingLeft(ctx context.Context, p *callsPage) error {
	rows, err := s.App.DB.NothingLeft(ctx, s.Today(), callsMost)
	if err != nil || len(rows) == 0 {
		return err
	}
	ids := make([]string, len(rows))
	for i := range rows {
		ids[i] = rows[i].Owner.ID
	}
	earlier, err := s.App.DB.CallsOf(ctx, ids, 20)
	for _, row := range rows {
		l := nothingLeftLine{VisitRow: row}
		calls := earlier[row.Owner.ID]
		if rests(calls, row.Visit.ID, s.Now()) {
			p.Rest++
			continue
		}
		if len(calls) > 0 {
			l.Last = &calls[0]
		}
		p.NothingLeft = append(p.NothingLeft, l)
	}
	return err
}

// rests reports whether the newest call about a visit lets it rest for now.
func rests(calls []store.Call, visitID string, now time.Time) bool {
	for i := range calls {
		if c := &calls[i]; c.VisitID == visitID || c.VisitID == "" {
			return restsAfter(c, now)
		}
	}
	return false
}

// restsAfter reports whether a call lets what it was about rest for now.
func restsAfter(c *store.Call, now time.Time) bool {
	days := map[string]int{store.CallNoAnswer: 1, store.CallMessage: 3, store.CallRingsBack: 3, store.CallThinks: thinksDays, store.CallDeclined: 3650}
	// Half a day less: tomorrow morning counts as a day after tonight.
	return now.Sub(c.At) < time.Duration(days[c.Outcome])*24*time.Hour-12*time.Hour
}
