package web

import (
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/catch"
	"bellbuoy/cmd/bellbuoy/internal/round"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// weekPage is this week's due list.
type weekPage struct {
	Week       civil.Week
	Prev, Next civil.Week
	Tally      []tally
	Sections   []weekSection
	DeskFeed   string
	Currency   string
}

type tally struct {
	Name string
	N    int
}

type weekSection struct {
	Name  string
	About string // one sentence on what stands here
	Mark  string // a sign before the state, so that colour is never alone
	Rows  []round.DueRow
}

// sections words the parts of the due list in reading order.
var sections = []struct{ stands, name, about, mark string }{
	{round.StandsOverdue, "Overdue", "Past the last good day, and not booked.", "▲"},
	{round.StandsBooked, "Booked this week", "Comes in on a fixed day.", "●"},
	{round.StandsPencilled, "Pencilled for this week", "Fits this week; nobody has confirmed it.", "◐"},
	{round.StandsDue, "Falls due this week", "Something falls due; the visit is planned for another week.", "○"},
	{round.StandsOwner, "The owner sees to it", "For the owner, not the shop.", "·"},
}

func (s *Server) week(r *http.Request) (answer, error) {
	today := civil.FromTime(s.Now().In(s.House.Config.Zone()))
	week := today.Week()
	if v := r.FormValue("week"); v != "" {
		w, err := civil.ParseWeek(v)
		if err != nil {
			return answer{}, problem{http.StatusBadRequest, "That week could not be read. Weeks are written like 2027-W18."}
		}
		week = w
	}
	rows, err := s.House.DueList(r.Context(), week, today)
	if err != nil {
		return answer{}, err
	}
	p := weekPage{Week: week, Prev: week - 1, Next: week + 1, Currency: s.House.Config.Shop.Currency}
	for _, sec := range sections {
		part := weekSection{Name: sec.name, About: sec.about, Mark: sec.mark}
		for i := range rows {
			if rows[i].Stands == sec.stands {
				part.Rows = append(part.Rows, rows[i])
			}
		}
		p.Tally = append(p.Tally, tally{sec.name, len(part.Rows)})
		if len(part.Rows) > 0 {
			p.Sections = append(p.Sections, part)
		}
	}
	if p.DeskFeed, err = s.House.FeedURL(r.Context(), notify.ScopeDesk, ""); err != nil {
		return answer{}, err
	}
	return answer{page: "week.html", data: p}, nil
}

// boatPage is one boat's plan.
type boatPage struct {
	View  schedule.BoatView
	Owner schedule.Customer
	Feed  string
}

func (s *Server) boat(r *http.Request) (answer, error) {
	id := r.PathValue("id")
	view, err := s.House.View(r.Context(), id)
	if err != nil {
		return answer{}, err
	}
	p := boatPage{View: view}
	if p.Feed, err = s.House.FeedURL(r.Context(), notify.ScopeBoat, id); err != nil {
		return answer{}, err
	}
	if p.Owner, err = s.House.OwnerOf(r.Context(), id); err != nil {
		return answer{}, err
	}
	return answer{page: "boat.html", data: p}, nil
}

// caughtList shows the demo's mail.
func (s *Server) caughtList(*http.Request) (answer, error) {
	return answer{page: "caught.html", data: struct {
		Total int
		Mails []catch.Mail
	}{s.Caught.Len(), s.Caught.Newest(100)}}, nil
}
