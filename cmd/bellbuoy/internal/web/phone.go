package web

import (
	"context"
	"net/http"
	"net/url"
	"time"

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
	Calls []phoneLine
	Rest  int    // calls of this page that rest after an earlier one
	More  string // address of the next page, "" if this is all
	Back  string
	// Wishes are customers whom the owner wants rung, on the first page.
	Wishes []wishLine
}

// phoneLine is one customer to ring.
type phoneLine struct {
	notify.Call
	Last *store.Call // the newest call, nil if none
}

func (s *Server) phone(r *http.Request) (answer, error) {
	p := phonePage{Back: r.URL.RequestURI()}
	after := r.FormValue("after")
	if after == "" {
		var err error
		if p.Wishes, err = s.wishes(r.Context()); err != nil {
			return answer{}, err
		}
	}
	// The policy has the last word; this only leaves out whom it cannot mean.
	until := (s.today() + civil.Day(s.House.Config.Reminders.InvitationDays+7)).At(0, 0, s.House.Config.Zone())
	for len(p.Calls) < phoneMany {
		ids, err := s.House.DB.CallCandidates(r.Context(), until, after, phoneBatch)
		if err != nil {
			return answer{}, err
		}
		for _, id := range ids {
			after = id
			if err := s.addCall(r.Context(), &p, id); err != nil {
				return answer{}, err
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
	return answer{page: "phone.html", data: &p}, nil
}

// addCall adds a customer if the policy wants him rung and no earlier call lets
// him rest.
func (s *Server) addCall(ctx context.Context, p *phonePage, id string) error {
	rcp, err := s.House.Recipient(ctx, id)
	if err != nil {
		return err
	}
	calls := notify.PhoneRound(rcp, s.House.Policy(), s.Now())
	if len(calls) == 0 {
		return nil
	}
	earlier, err := s.House.DB.CallsTo(ctx, id, 20)
	if err != nil {
		return err
	}
	l := phoneLine{Call: calls[0]}
	if len(earlier) > 0 {
		l.Last = &earlier[0]
	}
	var open []notify.NoticeVisit
	for _, v := range l.Visits {
		if !rests(earlier, v.Visit.Visit.ID, s.Now()) {
			open = append(open, v)
		}
	}
	if len(open) == 0 {
		p.Rest++
		return nil
	}
	l.Visits = open
	p.Calls = append(p.Calls, l)
	return nil
}

// rests reports whether the newest call about a visit lets it rest for now.
func rests(calls []store.Call, visitID string, now time.Time) bool {
	days := map[string]int{store.CallNoAnswer: 1, store.CallMessage: 3, store.CallRingsBack: 3, store.CallThinks: thinksDays, store.CallDeclined: 3650, store.CallBooked: 0}
	for _, c := range calls {
		if c.VisitID == visitID || c.VisitID == "" {
			// Half a day less: tomorrow morning counts as a day after tonight.
			return now.Sub(c.At) < time.Duration(days[c.Outcome])*24*time.Hour-12*time.Hour
		}
	}
	return false
}

// FirstVisit is the visit that the call is about first; there always is one.
func (l phoneLine) FirstVisit() *schedule.Visit { return &l.Visits[0].Visit.Visit }
