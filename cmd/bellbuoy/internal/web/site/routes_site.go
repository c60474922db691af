package site

import (
	"context"
	"io"
	"net/http"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/mailsink"
	"bellbuoy/cmd/bellbuoy/internal/web/feeds"
)

// Routes is the whole site, in one list. GET and HEAD never change anything:
// mail programs and calendar services follow links by themselves.
func (s *Site) Routes() []Route {
	rs := []Route{
		// Addresses that are their own key.
		{Pattern: "GET /cal/{token}", Who: Anyone, Raw: feeds.New(s.App.Addresses(), feeds.NewRecent(feeds.OfShop(s.App, s.Now), time.Second, s.Now), s.Log)},

		{Pattern: "GET /sign-in", Who: Anyone, Page: s.signInForm},
		{Pattern: "POST /sign-in", Who: Anyone, Page: s.signIn},
		{Pattern: "POST /sign-out", Who: Anyone, Page: s.signOut},
		{Pattern: "GET /password", Who: Technician, Page: s.passwordForm},
		{Pattern: "POST /password", Who: Technician, Page: s.changePassword},
		{Pattern: "GET /", Who: Anyone, Page: s.nothing},

		// For machines and robots.
		{Pattern: "GET /healthz", Who: Anyone, Raw: http.HandlerFunc(s.health)},
		{Pattern: "GET /metrics", Who: Anyone, Raw: loopbackOnly(s.metrics())},
		{Pattern: "GET /robots.txt", Who: Anyone, Raw: http.HandlerFunc(robots)},
		{Pattern: "GET /static/{name}", Who: Anyone, Raw: http.HandlerFunc(s.static.serve)},
	}
	for _, w := range s.wings {
		rs = append(rs, w.Routes(s)...)
	}
	if s.Demo {
		rs = append(rs,
			Route{Pattern: "POST /demo/role", Who: Anyone, Page: s.demoRole},
			Route{Pattern: "GET /outbox", Who: Anyone, Page: s.caughtList},
			Route{Pattern: "GET /outbox/email", Who: Anyone, Raw: s.Caught},
		)
	}
	return rs
}

// health answers 200 while the database does.
func (s *Site) health(w http.ResponseWriter, r *http.Request) {
	if _, err := s.App.DB.FactsVersion(r.Context()); err != nil && r.Context().Err() != context.Canceled {
		s.Log.ErrorContext(r.Context(), "health", "error", err)
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return
	}
	if s.Pulse != nil && !s.Pulse.Well(s.Pulse.Wall()) {
		http.Error(w, "planning and reminders fail; the log says why", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Write([]byte("ok\n"))
}

// caughtList shows the demo's mail.
func (s *Site) caughtList(*http.Request) (Response, error) {
	return Response{Page: "outbox.html", Data: struct {
		Total int
		Mails []mailsink.Mail
	}{s.Caught.Len(), s.Caught.Newest(100)}}, nil
}

// robots answers /robots.txt. Feeds may be fetched, since calendar programs are
// said to obey it; a search engine keeps them out by their own header. The rest
// is nobody's to crawl.
func robots(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "public, max-age=86400")
	_, _ = io.WriteString(w, "User-agent: *\nAllow: /cal/\nDisallow: /\n")
}
