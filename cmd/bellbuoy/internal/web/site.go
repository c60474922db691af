package web

import (
	"context"
	"net/http"
	"time"
)

// routes is the whole site, in one list. GET and HEAD never change anything:
// mail programs and calendar services follow links by themselves.
func (s *Server) routes() []route {
	rs := []route{
		// Addresses that are their own key.
		{pattern: "GET /cal/{token}", who: anyone, raw: NewFeeds(s.App.Addresses(), NewRecentStates(appFeeds{s.App, s.Now}, time.Second, s.Now), s.Log)},

		// For machines and robots.
		{pattern: "GET /healthz", who: anyone, raw: http.HandlerFunc(s.health)},
		{pattern: "GET /metrics", who: anyone, raw: loopbackOnly(s.metrics())},
		{pattern: "GET /robots.txt", who: anyone, raw: http.HandlerFunc(Robots)},
		{pattern: "GET /static/{name}", who: anyone, raw: http.HandlerFunc(s.static.serve)},
	}
	rs = append(rs, s.deskRoutes()...)
	rs = append(rs, s.ownerRoutes()...)
	rs = append(rs, s.myRoutes()...)
	rs = append(rs, s.handsRoutes()...)
	if s.Demo {
		rs = append(rs,
			route{pattern: "POST /demo/role", who: anyone, page: s.demoRole},
			route{pattern: "GET /caught", who: anyone, page: s.caughtList},
			route{pattern: "GET /caught/mail", who: anyone, raw: s.Caught},
		)
	}
	return rs
}

// health answers 200 while the database does.
func (s *Server) health(w http.ResponseWriter, r *http.Request) {
	if _, err := s.App.DB.FactsVersion(r.Context()); err != nil && r.Context().Err() != context.Canceled {
		s.Log.ErrorContext(r.Context(), "health", "error", err)
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Write([]byte("ok\n"))
}
