package site

import (
	"net/http"
	"time"

	"bellbuoy/schedule/civil"
)

// today is the civil day by the shop's clock.
func (s *Site) Today() civil.Day { return s.DayOf(s.Now()) }

func (s *Site) DayOf(t time.Time) civil.Day { return civil.FromTime(t.In(s.App.Config.Zone())) }

// actor is the name under which a change goes into the audit log.
func Actor(r *http.Request) string {
	who, _ := StaffOf(r)
	return who.Name
}

// settle plans anew what a change touched, at once: the page that answers shows
// the new plan.
func (s *Site) Settle(r *http.Request) error {
	_, err := s.App.Settle(r.Context(), s.Now(), s.Today(), nil)
	return err
}

// nothing answers where there is no page.
func (s *Site) nothing(*http.Request) (Response, error) {
	return Response{}, NotFound("There is no page at this address.")
}
