package site

import (
	"net/http"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
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

// Also is a note with what an act changed beside what was asked for.
func (s *Site) Also(note string, did *app.Change) string {
	return strings.Join(append([]string{note}, did.Words(s.Format())...), " ")
}

// nothing answers where there is no page.
func (s *Site) nothing(*http.Request) (Response, error) {
	return Response{}, NotFound("There is no page at this address.")
}
