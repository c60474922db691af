package web

import (
	"cmp"
	"context"
	"net/http"
)

// access says who may use a route.
type access int

const (
	anyone     access = iota // no sign-in: public, or an address that is its own key
	technician               // any staff
	desk                     // desk and owner
	owner                    // owner only
)

// route is one line of the site: a pattern of net/http, who may use it, and
// what answers it.
type route struct {
	pattern string
	who     access
	page    handler      // renders a page or redirects
	raw     http.Handler // for what is not a page: feeds, files, numbers
	// crossOrigin lets other sites post here: only for addresses that are
	// their own key and are posted to by mail programs.
	crossOrigin bool
	// body is the largest body taken, in bytes; 0 is maxBody.
	body int64
}

// staff is who is signed in.
type staff struct{ Name, Role string }

type staffKey struct{}

// staffOf returns who is signed in on a request.
func staffOf(r *http.Request) (staff, bool) {
	who, ok := r.Context().Value(staffKey{}).(staff)
	return who, ok
}

func withStaff(r *http.Request, who staff) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), staffKey{}, who))
}

// level is what a role may use.
func (who staff) level() access {
	switch who.Role {
	case "owner":
		return owner
	case "desk":
		return desk
	case "technician":
		return technician
	}
	return anyone
}

// guard lets a request through to its route if the visitor may use it.
func (s *Server) guard(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, cmp.Or(rt.body, maxBody))
		if who, ok := s.signedIn(w, r, rt.who); ok {
			r = withStaff(r, who)
		}
		who, _ := staffOf(r)
		switch {
		case who.level() < rt.who && who.Role == "":
			s.mustSignIn(w, r)
		case who.level() < rt.who:
			s.fail(w, r, problem{http.StatusForbidden, "Your role does not open this page. Ask the owner if you need it."})
		case rt.raw != nil:
			rt.raw.ServeHTTP(w, r)
		default:
			s.respond(w, r, rt.page)
		}
	})
}
