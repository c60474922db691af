package site

import (
	"context"
	"crypto/rand"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/accounts"
)

const (
	// sessionCookie names the cookie that holds a session's token.
	sessionCookie = "bellbuoy_session"
	// sessionLasts is how long a session outlives its last use.
	sessionLasts = 12 * time.Hour
	// sessionRenewed is how much of that must be used up before a page extends
	// it: a page opened a moment later writes nothing.
	sessionRenewed = sessionLasts / 4
)

// signInPage is what the sign-in form shows.
type signInPage struct {
	Name  string
	To    string // where to go on to
	Fault string
	None  bool        // nobody can sign in yet
	Kept  []keptField // of a form that was sent after the session had ended
}

// keptField is a field of a form as it was typed.
type keptField struct{ Name, Value string }

// Label names a field that somebody typed into, "" for one that the page filled in.
func (k keptField) Label() string {
	if k.Value == "" || strings.HasPrefix(k.Name, "about") || slices.Contains([]string{"form", "seen", "back", "visit", "was", "kind", "part", "anyway", "rule", "component"}, k.Name) {
		return ""
	}
	return words.UpperFirst(strings.NewReplacer("_", " ", "-", " ").Replace(k.Name))
}

// keptPrefix begins the names under which the sign-in form carries another form.
const keptPrefix = "kept."

// mostKept is the largest form that is carried through the sign-in, in bytes.
const mostKept = 64 << 10

// keptOf are the fields of a form, or of the one that it carries, in order of name.
func keptOf(sent url.Values, prefix string) []keptField {
	var all []keptField
	for _, name := range slices.Sorted(maps.Keys(sent)) {
		if plain, ok := strings.CutPrefix(name, prefix); ok {
			for _, v := range sent[name] {
				all = append(all, keptField{plain, v})
			}
		}
	}
	return all
}

func (s *Site) signInForm(r *http.Request) (Response, error) {
	staff, err := accounts.All(r.Context(), s.App.DB)
	return Response{Page: "sign-in.html", Data: signInPage{To: OwnPath(r.FormValue("to")), None: len(staff) == 0}}, err
}

// signIn checks name and password. What it says does not tell a wrong name
// from a wrong password, and both take the same time.
func (s *Site) signIn(r *http.Request) (Response, error) {
	name, to := strings.TrimSpace(r.PostFormValue("name")), OwnPath(r.PostFormValue("to"))
	again := func(code int, wait time.Duration, fault string) (Response, error) {
		return Response{Page: "sign-in.html", Code: code, wait: wait, Data: signInPage{Name: name, To: to, Fault: fault, Kept: keptOf(r.PostForm, keptPrefix)}}, nil
	}
	who, err := accounts.ByName(r.Context(), s.App.DB, name)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return Response{}, err
	}
	now := s.Now()
	a := newAttempt(now, name, network(s.visitor(r)))
	if wait := s.throttle.begin(a, who.Unlocked); wait > 0 {
		s.Log.WarnContext(r.Context(), "too many wrong passwords", "from", a.keys[0].from, "connection", r.RemoteAddr)
		return again(http.StatusTooManyRequests, wait,
			"Too many wrong passwords. Try again in a minute, or ask the owner: on the machine that runs this, \"bellbuoy staff unlock NAME\" ends the wait.")
	}
	ok, err := s.passwords.matches(r.Context(), r.PostFormValue("password"), who.Hash)
	switch {
	case err != nil:
		s.throttle.takeBack(a)
		if errors.Is(err, errBusy) {
			return again(http.StatusServiceUnavailable, busyWait, "Too many people are signing in at once. Try again in a few seconds.")
		}
		return Response{}, err
	case !ok:
		return again(http.StatusUnauthorized, 0, "Name or password is wrong. Check capital letters, or ask the owner.")
	}
	s.throttle.succeeded(a)
	token := rand.Text()
	if err := s.App.BeginSession(r.Context(), now, token, who.Name, now.Add(sessionLasts)); err != nil {
		return Response{}, err
	}
	in := Response{To: to, cookie: s.cookie(sessionCookie, token, sessionLasts)}
	if kept := keptOf(r.PostForm, keptPrefix); kept != nil {
		in.To, in.Page, in.Data = "", "kept.html", signInPage{To: to, Kept: kept}
	}
	return in, nil
}

func (s *Site) signOut(r *http.Request) (Response, error) {
	if c, err := r.Cookie(sessionCookie); err == nil {
		if err := s.App.EndSession(r.Context(), c.Value); err != nil {
			return Response{}, err
		}
	}
	return Response{To: "/sign-in", cookie: s.cookie(sessionCookie, "", 0)}, nil
}

// cookie is one that scripts cannot read and other sites cannot send; one that
// lasts no time ends at once. It carries Max-Age and no day (RFC 6265 section
// 5.2.2): the browser's clock may be wrong, and the server's own is what counts.
func (s *Site) cookie(name, value string, lasts time.Duration) *http.Cookie {
	maxAge := int(lasts / time.Second)
	if maxAge <= 0 {
		maxAge = -1 // net/http writes Max-Age=0 for it
	}
	return &http.Cookie{
		Name: name, Value: value, Path: "/", MaxAge: maxAge, HttpOnly: true, SameSite: http.SameSiteLaxMode,
		Secure: strings.HasPrefix(s.App.Config.Shop.URL, "https://"),
	}
}

// signedIn returns the staff member behind a request. The use of a staff page
// extends the session, in the database and in the browser.
func (s *Site) signedIn(w http.ResponseWriter, r *http.Request, page Access) (Staff, bool) {
	if s.Demo {
		return demoStaff(r), true
	}
	c, err := r.Cookie(sessionCookie)
	if err != nil || c.Value == "" {
		return Staff{}, false
	}
	now := s.Now()
	who, until, err := accounts.Session(r.Context(), s.App.DB, now, c.Value)
	if err != nil {
		if !errors.Is(err, store.ErrNotFound) && !errors.Is(err, context.Canceled) {
			s.Log.ErrorContext(r.Context(), "session", "error", err)
		}
		return Staff{}, false
	}
	if page > Anyone && until.Sub(now) < sessionLasts-sessionRenewed {
		if err := s.App.ExtendSession(r.Context(), c.Value, now.Add(sessionLasts)); gone(r, err) {
			return Staff{}, false
		} else if err != nil {
			s.Log.ErrorContext(r.Context(), "session", "error", err)
		} else {
			http.SetCookie(w, s.cookie(sessionCookie, c.Value, sessionLasts))
		}
	}
	return Staff{Name: who.Name, Role: who.Role}, true
}

// mustSignIn answers a visitor whom the page does not know: a reader is led to
// the form and back; what somebody typed into a form is carried through the
// sign-in.
func (s *Site) mustSignIn(w http.ResponseWriter, r *http.Request) {
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		http.Redirect(w, r, "/sign-in?to="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostKept)
	if kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";"); kind != "application/x-www-form-urlencoded" || r.ParseForm() != nil || len(r.PostForm) == 0 {
		s.Fail(w, r, Problem{http.StatusForbidden, "This page is for the shop's staff. You may have been signed out; sign in and send the form again."})
		return
	}
	s.respond(w, r, func(r *http.Request) (Response, error) {
		return Response{Page: "sign-in.html", Code: http.StatusForbidden, Data: signInPage{
			To: r.URL.RequestURI(), Kept: keptOf(r.PostForm, ""),
			Fault: "You were signed out. What you typed is kept: sign in, then send it.",
		}}, nil
	})
}

// ownPath returns a path of this site, "/" for anything else: nobody is led
// away by a link that only begins here. Browsers drop tabs and line ends before
// they read an address, and take a backslash for a slash.
func OwnPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.Contains(p, "\\") || strings.ContainsFunc(p, unicode.IsControl) {
		return "/"
	}
	return p
}
