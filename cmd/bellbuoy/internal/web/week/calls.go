package week

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

const (
	phoneMany  = 25 // calls on one page
	phoneBatch = 100
)

// phonePage is the phone round.
type phonePage struct {
	Calls []phoneLine // those who asked for a call come first
	Rest  int         // calls of this page that rest after an earlier one
	More  string      // address of the next page, "" if this is all
	Back  string
	// Wishes are customers whom the owner wants rung, on the first page.
	Wishes []wishLine
	// Asked are the boats of whose winterization the desk asks whether it was
	// done, on the first page.
	Asked []askedLine
	// Freeze are the places with an alarm whose owners are to be called, on the
	// first page: before all others.
	Freeze []freezePlace
}

// askedLine is one boat to ask about.
type askedLine struct {
	Customer schedule.Customer
	Boat     schedule.Boat
	Why      string
	Last     *store.Call // the newest call, nil if none
}

// phoneLine is one customer to ring.
type phoneLine struct {
	notify.Call
	Last *store.Call // the newest call, nil if none
	Note string      // address of the form for a call note
}

func (s pages) phone(r *http.Request) (site.Response, error) {
	p := phonePage{Back: r.URL.RequestURI()}
	after := r.FormValue("after")
	if after == "" {
		var err error
		if err = s.addAsked(r.Context(), &p); err != nil {
			return site.Response{}, err
		}
		if p.Wishes, err = s.wishes(r.Context()); err != nil {
			return site.Response{}, err
		}
		if err = s.addAskedBoats(r.Context(), &p); err != nil {
			return site.Response{}, err
		}
		places, err := s.freezeOfWeek(r, true, p.Back)
		if err != nil {
			return site.Response{}, err
		}
		p.Freeze = slices.DeleteFunc(places, func(f freezePlace) bool { return len(f.Calls) == 0 })
	}
	// The policy has the last word; this only leaves out whom it cannot mean.
	until := (s.Today() + civil.Day(s.App.Config.Reminders.InvitationDays+7)).At(0, 0, s.App.Config.Zone())
	for len(p.Calls) < phoneMany {
		ids, err := s.App.DB.CallCandidates(r.Context(), until, after, phoneBatch)
		if err != nil {
			return site.Response{}, err
		}
		for _, id := range ids {
			after = id
			if err := s.addCall(r.Context(), &p, id); err != nil {
				return site.Response{}, err
			}
			if len(p.Calls) == phoneMany {
				p.More = "/phone?after=" + url.QueryEscape(id)
				break
			}
		}
		if len(ids) < phoneBatch {
			break
		}
	}
	return site.Response{Page: "phone.html", Data: &p}, nil
}

// mostAsked is how many requests for a call the list reads.
const mostAsked = 500

// addAsked adds the customers who asked for a call, those who have waited longest
// first: whatever their way of contact and whether or not anything is planned.
func (s pages) addAsked(ctx context.Context, p *phonePage) error {
	asked, err := s.App.DB.OpenAnswers(ctx, schedule.AnswerCall, mostAsked)
	if err != nil {
		return err
	}
	newest := make(map[string]time.Time)
	for _, a := range asked {
		newest[a.CustomerID] = a.At
	}
	for _, a := range asked {
		since, first := newest[a.CustomerID]
		if !first {
			continue
		}
		delete(newest, a.CustomerID)
		rcp, err := s.App.Recipient(ctx, a.CustomerID)
		if err != nil {
			return err
		}
		calls := notify.PhoneRound(rcp, s.App.Policy(), s.Now())
		if len(calls) == 0 || calls[0].Reason != notify.CallAsked {
			continue // settled a moment ago
		}
		earlier, err := s.App.DB.CallsTo(ctx, a.CustomerID, 1)
		if err != nil {
			return err
		}
		l := s.phoneLine(&calls[0], earlier)
		if l.Last != nil && !l.Last.At.Before(since) && restsAfter(l.Last, s.Now()) {
			p.Rest++
			continue
		}
		p.Calls = append(p.Calls, l)
	}
	return nil
}

// addAskedBoats adds the boats that nobody winterized, by the file. A question
// rests as a call does.
func (s pages) addAskedBoats(ctx context.Context, p *phonePage) error {
	after := ""
	for len(p.Asked) < phoneMany {
		all, err := s.App.DB.AskedBoats(ctx, after, phoneBatch)
		if err != nil || len(all) == 0 {
			return err
		}
		for _, a := range all {
			after = a.BoatID
			earlier, err := s.App.DB.CallsTo(ctx, a.CustomerID, 20)
			if err != nil {
				return err
			}
			if rests(earlier, fmt.Sprintf("%s.%s.%d", a.BoatID, schedule.LayUp, a.Season), s.Now()) {
				p.Rest++
				continue
			}
			l := askedLine{}
			if len(earlier) > 0 {
				l.Last = &earlier[0]
			}
			if l.Customer, err = s.App.DB.Customer(ctx, a.CustomerID); err != nil {
				return err
			}
			if l.Customer.ContactBy == "none" {
				continue // asked not to be called
			}
			view, err := s.App.View(ctx, a.BoatID)
			if err != nil {
				return err
			}
			l.Boat = view.Boat
			for i := range view.Loose {
				if view.Loose[i].Item.Basis == schedule.BasisAsk {
					l.Why = view.Loose[i].Why
				}
			}
			if p.Asked = append(p.Asked, l); len(p.Asked) == phoneMany {
				return nil
			}
		}
	}
	return nil
}

// phoneLine makes the line of a call. The note is about the first of its visits,
// or about nothing planned.
func (s pages) phoneLine(c *notify.Call, earlier []store.Call) phoneLine {
	l := phoneLine{Call: *c, Note: "/customers/" + url.PathEscape(c.Customer.ID) + "/call?back=/phone"}
	if v := l.FirstVisit(); v != nil {
		l.Note = "/boats/" + url.PathEscape(v.BoatID) + "/call?visit=" + url.QueryEscape(v.ID) + "&back=/phone"
	}
	if len(earlier) > 0 {
		l.Last = &earlier[0]
	}
	return l
}

// addCall adds a customer if the policy wants him rung and no earlier call lets
// him rest. Who asked for a call is on the list already.
func (s pages) addCall(ctx context.Context, p *phonePage, id string) error {
	rcp, err := s.App.Recipient(ctx, id)
	if err != nil {
		return err
	}
	calls := notify.PhoneRound(rcp, s.App.Policy(), s.Now())
	if len(calls) == 0 || calls[0].Reason == notify.CallAsked {
		return nil
	}
	earlier, err := s.App.DB.CallsTo(ctx, id, 20)
	if err != nil {
		return err
	}
	var open []notify.NoticeVisit
	for _, v := range calls[0].Visits {
		if !rests(earlier, v.Visit.Visit.ID, s.Now()) {
			open = append(open, v)
		}
	}
	if len(open) == 0 {
		p.Rest++
		return nil
	}
	calls[0].Visits = open
	p.Calls = append(p.Calls, s.phoneLine(&calls[0], earlier))
	return nil
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

// FirstVisit is the visit that the call is about first, nil if it is about none.
func (l phoneLine) FirstVisit() *schedule.Visit {
	if len(l.Visits) == 0 {
		return nil
	}
	return &l.Visits[0].Visit.Visit
}
