package web

import (
	"net/http"
	"time"

	"bellbuoy/schedule/civil"
)

// deskRoutes are the pages of the shop's own people. Reading is open to all of
// them; fixing days and ringing customers is the desk's, switching mail on the
// owner's.
func (s *Server) deskRoutes() []route {
	return []route{
		{pattern: "GET /sign-in", who: anyone, page: s.signInForm},
		{pattern: "POST /sign-in", who: anyone, page: s.signIn},
		{pattern: "POST /sign-out", who: anyone, page: s.signOut},

		{pattern: "GET /{$}", who: technician, page: s.week},
		{pattern: "GET /", who: anyone, page: s.nothing},
		{pattern: "GET /search", who: technician, page: s.search},
		{pattern: "GET /phone", who: desk, page: s.phone},
		{pattern: "GET /weeks", who: technician, page: s.weeks},
		{pattern: "POST /weeks", who: desk, page: s.editWeeks},
		{pattern: "GET /weeks/load", who: technician, raw: s.svg(s.loadSVG)},
		{pattern: "GET /rehearsal", who: desk, page: s.rehearsal},
		{pattern: "POST /rehearsal", who: owner, page: s.switchMail},
		{pattern: "POST /rehearsal/refused", who: desk, page: s.judgeRefused},
		{pattern: "GET /intake", who: desk, page: s.intakeForm},
		{pattern: "POST /intake", who: desk, page: s.intake, body: intakeBody},
		{pattern: "GET /twins", who: desk, page: s.twins},
		{pattern: "POST /twins", who: desk, page: s.editTwins},
		{pattern: "GET /parts", who: technician, page: s.parts},
		{pattern: "GET /boats/{id}", who: technician, page: s.boat},
		{pattern: "GET /boats/{id}/hours/{component}", who: technician, raw: s.svg(s.hoursSVG)},
		{pattern: "POST /boats/{id}/feed", who: desk, page: s.revokeFeed},
		{pattern: "GET /boats/{id}/book", who: desk, page: s.bookForm},
		{pattern: "POST /boats/{id}/book", who: desk, page: s.book},
		{pattern: "GET /boats/{id}/record", who: technician, page: s.recordForm},
		{pattern: "POST /boats/{id}/record", who: technician, page: s.record},
		{pattern: "GET /boats/{id}/sheet", who: technician, page: s.sheet},
		{pattern: "GET /boats/{id}/reading", who: technician, page: s.readingForm},
		{pattern: "GET /boats/{id}/call", who: desk, page: s.callForm},
		{pattern: "POST /boats/{id}/call", who: desk, page: s.call},
		{pattern: "GET /customers/{id}/call", who: desk, page: s.callCustomerForm},
		{pattern: "POST /customers/{id}/call", who: desk, page: s.callCustomer},
	}
}

// today is the civil day by the shop's clock.
func (s *Server) today() civil.Day { return s.dayOf(s.Now()) }

func (s *Server) dayOf(t time.Time) civil.Day { return civil.FromTime(t.In(s.App.Config.Zone())) }

// actor is the name under which a change goes into the audit log.
func actor(r *http.Request) string {
	who, _ := staffOf(r)
	return who.Name
}

// settle plans anew what a change touched, at once: the page that answers shows
// the new plan.
func (s *Server) settle(r *http.Request) error {
	_, err := s.App.Settle(r.Context(), s.Now(), s.today(), nil)
	return err
}

// nothing answers where there is no page.
func (s *Server) nothing(*http.Request) (response, error) {
	return response{}, notFound("There is no page at this address.")
}
