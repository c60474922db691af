package site

import (
	"cmp"
	"context"
	"net/http"
	"time"
)

// Access says who may use a route.
type Access int

const (
	Anyone     Access = iota // no sign-in: public, or an address that is its own key
	Technician               // any staff
	Desk                     // desk and owner
	Owner                    // owner only
)

// Route is one line of the site: a pattern of net/http, who may use it, and
// what answers it.
type Route struct {
	Pattern string
	Who     Access
	Page    Handler      // renders a page or redirects
	Raw     http.Handler // for what is not a page: feeds, files, numbers
	// CrossOrigin lets other sites post here: only for addresses that are
	// their own key and are posted to by mail programs.
	CrossOrigin bool
	// Body is the largest body taken, in bytes; 0 is maxBody.
	Body int64
}

// Staff is who is signed in.
type Staff struct{ Name, Role string }

type staffKey struct{}

// StaffOf returns who is signed in on a request.
func StaffOf(r *http.Request) (Staff, bool) {
	who, ok := r.Context().Value(staffKey{}).(Staff)
	return who, ok
}

func withStaff(r *http.Request, who Staff) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), staffKey{}, who))
}

// Level is what a role may use.
func (who Staff) Level() Access {
	switch who.Role {
	case "owner":
		return Owner
	case "desk":
		return Desk
	case "technician":
		return Technician
	}
	return Anyone
}

// guard lets a request through to its route if the visitor may use it.
func (s *Site) guard(rt Route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, cmp.Or(rt.Body, maxBody))
		if who, ok := s.signedIn(w, r, rt.Who); ok {
			r = withStaff(r, who)
		}
		who, _ := StaffOf(r)
		taken := s.Takes(r)
		switch {
		case who.Level() < rt.Who && who.Role == "":
			s.mustSignIn(w, r)
		case who.Level() < rt.Who:
			s.Fail(w, r, Problem{http.StatusForbidden, "Your role does not open this page. Ask the owner if you need it."})
		case rt.Who > Anyone && taken != nil:
			s.Fail(w, r, taken)
		case rt.Raw != nil:
			rt.Raw.ServeHTTP(w, r)
		default:
			if rt.Body > maxBody {
				giveTime(w, uploadTime)
			}
			s.respond(w, r, rt.Page)
		}
	})
}

// giveTime lets a request take longer than others. The deadline is of the
// connection, so it is by the real clock and not by that of the pages; a writer
// without one (a test's) takes as long as it likes.
func giveTime(w http.ResponseWriter, d time.Duration) {
	c, until := http.NewResponseController(w), time.Now().Add(d)
	_ = c.SetReadDeadline(until)
	_ = c.SetWriteDeadline(until)
}
