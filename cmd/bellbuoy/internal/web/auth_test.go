package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/accounts"
	"bellbuoy/store/storetest"
)

// password is everybody's in the tests.
const password = "four words in a row"

// cheap is what a guess at a test's password takes. The real cost is too much
// for hundreds of them, above all under the race detector.
var cheap = &argon2id.Params{Memory: 8, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// hire puts somebody on the list and signs them in; the cookie is what their
// browser shows from then on.
func (s *testShop) hire(name, role string) (cookie string) {
	s.t.Helper()
	hash, err := site.HashPassword(password, s.cost)
	if err != nil {
		s.t.Fatal(err)
	}
	if err := accounts.SaveStaff(s.t.Context(), storetest.Writer(s.t, s.app.DB), s.now, "test", accounts.Staff{Name: name, Role: role, Hash: hash}); err != nil {
		s.t.Fatal(err)
	}
	a := s.post("/sign-in", url.Values{"name": {name}, "password": {password}, "to": {"/"}}).code(http.StatusSeeOther)
	return cookieOf(a)
}

func cookieOf(a answered) string {
	a.t.Helper()
	c, _, _ := strings.Cut(a.Header().Get("Set-Cookie"), ";")
	if c == "" {
		a.t.Fatal("no cookie came with the answer")
	}
	return c
}

// as asks or sends as somebody who is signed in.
func (s *testShop) as(cookie, method, path string, form url.Values) answered {
	s.t.Helper()
	return s.send(method, path, form, "Sec-Fetch-Site", "same-origin", "Cookie", cookie)
}

func TestSignInAndOut(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	if set := s.post("/sign-in", url.Values{"name": {"inge"}, "password": {password}}).Header().Get("Set-Cookie"); !strings.Contains(set, "HttpOnly") ||
		!strings.Contains(set, "Secure") || !strings.Contains(set, "SameSite=Lax") {
		t.Errorf("the cookie %q lacks its guards", set)
	}
	s.as(cookie, "GET", "/", nil).code(http.StatusOK).says("Week of", "Inge, desk")
	s.as(cookie, "POST", "/sign-out", url.Values{}).code(http.StatusSeeOther)
	if to := s.as(cookie, "GET", "/weeks?week=2027-W16", nil).code(http.StatusSeeOther).to(); to != "/sign-in?to=%2Fweeks%3Fweek%3D2027-W16" {
		t.Errorf("after signing out the page leads to %q", to)
	}
}

func TestSessionsEnd(t *testing.T) {
	for _, c := range []struct {
		name string
		end  func(s *testShop) error
	}{
		{"twelve hours after its last use", func(s *testShop) error { s.now = s.now.Add(12 * time.Hour); return nil }},
		{"when signed out everywhere", func(s *testShop) error {
			_, err := accounts.EndSessions(s.t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", "Ruth")
			return err
		}},
		{"when taken off the list", func(s *testShop) error {
			return accounts.RemoveStaff(s.t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", "Ruth")
		}},
		{"with a new role", func(s *testShop) error {
			return accounts.SaveStaff(s.t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", accounts.Staff{Name: "Ruth", Role: "technician", Hash: "x"})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			cookie := s.hire("Ruth", "owner")
			s.as(cookie, "GET", "/", nil).code(http.StatusOK)
			if err := c.end(s); err != nil {
				t.Fatal(err)
			}
			s.as(cookie, "GET", "/", nil).code(http.StatusSeeOther)
		})
	}
}

// TestSessionLastsByUse: twelve hours from the last use, in the browser by
// Max-Age, whatever its clock says, and in the database. A page opened soon
// after writes nothing.
func TestSessionLastsByUse(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	before := s.fingerprint()
	for _, c := range []struct {
		passes  time.Duration
		path    string
		renewed bool
	}{
		{2 * time.Hour, "/", false},
		{time.Hour + time.Minute, "/robots.txt", false}, // no page of the staff
		{0, "/", true},
		{0, "/", false},
		{11*time.Hour + 59*time.Minute, "/calls", true}, // 15 hours after signing in
	} {
		s.now = s.now.Add(c.passes)
		set := s.as(cookie, "GET", c.path, nil).code(http.StatusOK).Header().Get("Set-Cookie")
		if want := cookie + "; Path=/; Max-Age=43200; HttpOnly; Secure; SameSite=Lax"; c.renewed && set != want || !c.renewed && set != "" {
			t.Errorf("%s, %s later: the answer sets the cookie %q, renewed is %t", c.path, c.passes, set, c.renewed)
		}
		after := s.fingerprint()
		if wrote := after != before; wrote != c.renewed {
			t.Errorf("%s, %s later: written is %t, renewed is %t", c.path, c.passes, wrote, c.renewed)
		}
		before = after
	}
	s.now = s.now.Add(12 * time.Hour)
	s.as(cookie, "GET", "/", nil).code(http.StatusSeeOther)
}

// TestCookiesCarryNoDay wants every cookie to last by Max-Age: a day by the
// shop's clock means another time in a browser whose clock is wrong.
func TestCookiesCarryNoDay(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	v := s.nextVisit("PERCH")
	booked := s.as(cookie, "POST", "/boats/PERCH/book", url.Values{"visit": {v.ID}, "do": {"book"}, "day": {v.Week.Monday().String()}}).code(http.StatusSeeOther)
	for what, a := range map[string]answered{
		"signed in":  s.post("/sign-in", url.Values{"name": {"Inge"}, "password": {password}}).code(http.StatusSeeOther),
		"told":       booked,
		"heard":      s.send("GET", "/", nil, "Cookie", cookie+"; "+cookieOf(booked)).code(http.StatusOK),
		"signed out": s.as(cookie, "POST", "/sign-out", url.Values{}).code(http.StatusSeeOther),
	} {
		for _, set := range a.Header().Values("Set-Cookie") {
			if !strings.Contains(set, "; Max-Age=") || strings.Contains(set, "Expires") {
				t.Errorf("%s: the cookie %q does not last by Max-Age alone", what, set)
			}
		}
		cookieOf(a)
	}
}

// TestGuessingIsSlowed also wants a right password refused once guessing has
// begun, and the same words for a wrong name as for a wrong password.
func TestGuessingIsSlowed(t *testing.T) {
	s := newTestShop(t)
	s.hire("Odile", "desk")
	guess := func(name, pass string) answered {
		return s.post("/sign-in", url.Values{"name": {name}, "password": {pass}})
	}
	wrongName := guess("Nobody", password).code(http.StatusUnauthorized).text()
	if wrong := guess("Odile", "wrong").code(http.StatusUnauthorized).text(); strings.ReplaceAll(wrong, "Odile", "") != strings.ReplaceAll(wrongName, "Nobody", "") {
		t.Errorf("a wrong name says %q, a wrong password %q", wrongName, wrong)
	}
	for range 4 {
		guess("Odile", "wrong").code(http.StatusUnauthorized)
	}
	guess("Odile", password).code(http.StatusTooManyRequests)
	s.now = s.now.Add(15 * time.Minute)
	guess("Odile", password).code(http.StatusSeeOther)
}

// elsewhere are addresses that lead away from the site, or that some browser
// makes one of: browsers drop tabs and line ends wherever they stand, and take a
// backslash for a slash.
var elsewhere = []string{
	"https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "\\\\elsewhere.example", "elsewhere",
	"/x\r\nSet-Cookie: a=b", "/\t/elsewhere.example", "\t//elsewhere.example", "/\n/elsewhere.example", "/\x00/elsewhere.example",
	"/\x1f/elsewhere.example", "/\x7f/elsewhere.example", "/weeks\t", " //elsewhere.example", "javascript:alert(1)", "///elsewhere.example",
	"/\u0085/elsewhere.example",
}

func TestSignInLeadsNowhereElse(t *testing.T) {
	s := newTestShop(t)
	s.hire("Bram", "desk")
	for _, to := range elsewhere {
		a := s.post("/sign-in", url.Values{"name": {"Bram"}, "password": {password}, "to": {to}}).code(http.StatusSeeOther)
		if a.to() != "/" {
			t.Errorf("to %q: led to %q", to, a.to())
		}
	}
	for _, to := range []string{"/weeks?week=2027-W16#open", "/boats/HERON/record?back=%2Fcalls&visit=a%7Cb"} {
		if a := s.post("/sign-in", url.Values{"name": {"Bram"}, "password": {password}, "to": {to}}).code(http.StatusSeeOther); a.to() != to {
			t.Errorf("to %q: led to %q", to, a.to())
		}
	}
}

// TestFormsLeadNowhereElse: the way back from a form about a boat stays here too.
func TestFormsLeadNowhereElse(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Bram", "desk")
	for _, to := range elsewhere {
		a := s.as(desk, "POST", "/boats/HERON/call", url.Values{"back": {to}, "outcome": {"no-answer"}}).code(http.StatusSeeOther)
		if a.to() != "/" {
			t.Errorf("back %q: led to %q", to, a.to())
		}
	}
}

func TestPasswordLength(t *testing.T) {
	for _, c := range []struct {
		name, password string
		ok             bool
	}{
		{"nine characters", "ninechars", false},
		{"ten letters beyond ASCII", "ÄÖÜäöüßéèê", true},
		{"longer than anybody types", strings.Repeat("x", 201), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			hash, err := site.HashPassword(c.password, site.PasswordCost())
			if (err == nil) != c.ok {
				t.Fatalf("got error %v", err)
			}
			if c.ok && (!strings.HasPrefix(hash, "$argon2id$") || strings.Contains(hash, c.password)) {
				t.Errorf("hash %q", hash)
			}
		})
	}
}

// staffRoutes is who may do what on the desk's pages, written down apart from
// the code. Every staff route must stand in it.
var staffRoutes = map[string]string{
	"GET /{$}": "technician", "GET /search": "technician", "GET /boats/{id}": "technician",
	"GET /boats/{id}/hours/{component}": "technician", "GET /boats/{id}/record": "technician", "POST /boats/{id}/record": "technician",
	"GET /boats/{id}/reading": "technician", "GET /boats/{id}/sheet": "technician", "GET /sheets": "technician", "GET /late": "technician",
	"GET /weeks": "technician", "GET /weeks/load": "technician", "GET /parts": "technician",
	"POST /boats/{id}/feed": "desk", "POST /boats/{id}/winter": "desk", "GET /boats/{id}/book": "desk", "POST /boats/{id}/book": "desk",
	"GET /boats/{id}/job": "desk", "POST /boats/{id}/job": "desk", "GET /boats/{id}/call": "desk", "POST /boats/{id}/call": "desk", "GET /calls": "desk", "GET /phone": "desk", "POST /weeks": "desk",
	"GET /email": "desk", "GET /import": "desk", "POST /import": "desk", "GET /duplicates": "desk", "POST /duplicates": "desk",
	"GET /import/tables": "desk", "POST /import/tables": "desk", "GET /import/returned": "desk",
	"POST /duplicates/agreeing": "desk",
	"POST /email":               "owner", "POST /email/refused": "desk",
}

// routeRoles names for every route the least role that it is open to.
func routeRoles(s *site.Site) map[string]string {
	roles := map[site.Access]string{site.Anyone: "anyone", site.Technician: "technician", site.Desk: "desk", site.Owner: "owner"}
	all := make(map[string]string)
	for _, r := range s.Routes() {
		all[r.Pattern] = roles[r.Who]
	}
	return all
}

// TestWhoMayDoWhat tries every route with every role and with none.
func TestWhoMayDoWhat(t *testing.T) {
	s := newTestShop(t)
	routes := routeRoles(s.server)
	for pattern, who := range staffRoutes {
		if routes[pattern] != who {
			t.Errorf("%s is open to %q, want %s", pattern, routes[pattern], who)
		}
	}
	roles := []string{"", "technician", "desk", "owner"}
	cookies := map[string]string{"": "none=none"}
	for _, r := range roles[1:] {
		cookies[r] = s.hire("The "+r, r)
	}
	tried := 0
	for pattern, who := range routes {
		if who == "anyone" {
			continue
		}
		method, path, _ := strings.Cut(pattern, " ")
		path = strings.NewReplacer("{$}", "", "{id}", "HERON", "{component}", "HERON-E1").Replace(path)
		for level, role := range roles {
			tried++
			may := level >= slices.Index(roles, who)
			a := s.as(cookies[role], method, path, map[string]url.Values{"POST": {}}[method])
			signIn := a.Code == http.StatusSeeOther && strings.HasPrefix(a.to(), "/sign-in")
			if shut := a.Code == http.StatusForbidden || signIn; shut == may {
				t.Errorf("%s as %q: answered %d to %q, may is %t", pattern, role, a.Code, a.to(), may)
			}
			if role == "" && method == "GET" && !signIn {
				t.Errorf("%s with no role: answered %d, want the way to sign in", pattern, a.Code)
			}
		}
	}
	if tried < 4*len(staffRoutes) {
		t.Fatalf("only %d of the staff's routes tried", tried/4)
	}
}

// TestOtherSitesCannotPost: a signed-in browser that another site leads here
// changes nothing.
func TestOtherSitesCannotPost(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Noor", "owner")
	posts := 0
	for pattern, who := range routeRoles(s.server) {
		method, path, _ := strings.Cut(pattern, " ")
		if method != "POST" || who == "anyone" {
			continue
		}
		posts++
		path = strings.NewReplacer("{id}", "HERON").Replace(path)
		s.send(method, path, url.Values{}, "Sec-Fetch-Site", "cross-site", "Cookie", cookie).code(http.StatusForbidden)
	}
	if posts < 5 {
		t.Fatalf("only %d forms tried", posts)
	}
}
