package web

import (
	"net/http"

	"bellbuoy/notify"
	"bellbuoy/schedule"
)

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
