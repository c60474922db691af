package web_test

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	_ "modernc.org/sqlite"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/web"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store/emptyshop"
	"bellbuoy/store/imports"
	"bellbuoy/store/storetest"
)

// shopSettings are those of the worked shop.
const shopSettings = `[shop]
name = "Lindrake Boat Works"
address = "4 Slipway Lane, Lindrake Cove"
phone = "555-0100"
url = "https://service.lindrake.example"
time_zone = "America/New_York"
currency = "$"
[mail]
from = "Lindrake Boat Works <service@lindrake.example>"
server = "127.0.0.1:1"
security = "none"
[[weeks.technician]]
name = "Inge"
hours = [8, 8, 8, 8, 8, 0, 0]
[[place]]
name = "Lindrake Cove"
launch = "05-15"
winterize_by = "10-10"
`

// workedFiles are the files of the worked example, in the folder of workedFolder.
var workedFiles = []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"}

func workedFolder(t testing.TB) string {
	return testkit.Folder(t, filepath.Join("..", "..", "..", "..", "testdata", "worked"))
}

// testShop is a shop with the worked example's boats on 25 November 2026.
type testShop struct {
	t    testing.TB
	app  *app.App
	site http.Handler
	// server is what answers as site.
	server *site.Site
	now    time.Time
	// cost is what a guess at a password takes.
	cost *argon2id.Params
}

func newTestShop(t testing.TB) *testShop {
	t.Helper()
	s := emptyTestShop(t, shopSettings)
	s.intake(workedFolder(t), workedFiles...)
	return s
}

func emptyTestShop(t testing.TB, settings string) *testShop {
	t.Helper()
	return testShopFrom(t, settings, emptyshop.Put)
}

// testShopFrom opens a shop with the database that put puts in its place.
func testShopFrom(t testing.TB, settings string, put func(t testing.TB, path string)) *testShop {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bellbuoy.toml")
	if err := os.WriteFile(path, []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	cfg, err := config.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	put(t, cfg.Path(cfg.Files.Database))
	a, err := app.Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	s := &testShop{t: t, app: a, now: testkit.Day(2026, time.November, 25).At(10, 0, cfg.Zone())}
	s.openSite(cheap)
	return s
}

// parsed are the pages of all shops here: to parse them takes longer than most tests.
var parsed site.Pages

// openSite opens the pages with what a guess at a password takes from now on.
func (s *testShop) openSite(cost *argon2id.Params) {
	s.t.Helper()
	srv, err := web.New(site.Options{App: s.app, Pages: &parsed, PasswordCost: cost, Now: func() time.Time { return s.now }, Log: slog.New(slog.NewTextHandler(testLog{s.t}, nil)), Adopt: s.adopt})
	if err != nil {
		s.t.Fatal(err)
	}
	s.site, s.server, s.cost = srv.Handler(), srv, cost
}

// testLog shows what the server logs beside the test that caused it.
type testLog struct{ t testing.TB }

func (l testLog) Write(p []byte) (int, error) {
	l.t.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}

func (s *testShop) intake(dir string, names ...string) {
	s.t.Helper()
	var files []imports.File
	for _, n := range names {
		b, err := os.ReadFile(filepath.Join(dir, n))
		if err != nil {
			s.t.Fatal(err)
		}
		files = append(files, imports.File{Name: n, R: bytes.NewReader(b)})
	}
	rep, err := imports.Intake(s.t.Context(), storetest.Writer(s.t, s.app.DB), s.now, files, s.app.Known(), app.IntakeBy("test"))
	if err != nil {
		s.t.Fatal(err, rep.Faults)
	}
	if _, err := s.app.Settle(s.t.Context(), s.now, s.today(), nil); err != nil {
		s.t.Fatal(err)
	}
}

func (s *testShop) today() civil.Day { return civil.FromTime(s.now.In(s.app.Config.Zone())) }

// answered is what the server answered.
type answered struct {
	*httptest.ResponseRecorder
	t testing.TB
}

// get asks for a page as a link in a mail does.
func (s *testShop) get(path string) answered { return s.send(http.MethodGet, path, nil) }

// post sends a form from a page of the site.
func (s *testShop) post(path string, form url.Values) answered {
	return s.send(http.MethodPost, path, form, "Sec-Fetch-Site", "same-origin")
}

func (s *testShop) send(method, path string, form url.Values, headers ...string) answered {
	s.t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, path, body)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.site.ServeHTTP(w, r)
	return answered{w, s.t}
}

// sendBody sends a body of any type.
func (s *testShop) sendBody(method, path, kind, body string) answered {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Header.Set("Content-Type", kind)
	w := httptest.NewRecorder()
	s.site.ServeHTTP(w, r)
	return answered{w, s.t}
}

func (a answered) code(want int) answered {
	a.t.Helper()
	if a.Code != want {
		a.t.Fatalf("answered %d, want %d: %s", a.Code, want, a.text())
	}
	return a
}

// says wants words on the page, whatever the marks between them.
func (a answered) says(want ...string) answered {
	a.t.Helper()
	for _, w := range want {
		if !strings.Contains(a.text(), w) {
			a.t.Errorf("the page does not say %q: %s", w, a.text())
		}
	}
	return a
}

func (a answered) silent(not ...string) answered {
	a.t.Helper()
	for _, w := range not {
		if strings.Contains(a.text(), w) {
			a.t.Errorf("the page says %q: %s", w, a.text())
		}
	}
	return a
}

func (a answered) to() string { return a.Header().Get("Location") }

var (
	tags   = regexp.MustCompile(`<[^>]*>`)
	spaces = regexp.MustCompile(`\s+`)
)

// text is the page's words.
func (a answered) text() string {
	s := tags.ReplaceAllString(a.Body.String(), " ")
	s = strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&").Replace(s)
	return spaces.ReplaceAllString(s, " ")
}

// my is the path of a customer's page.
func (s *testShop) my(customer string) string { return s.path(s.app.MyURL(s.t.Context(), customer)) }

func (s *testShop) stopPath(customer string) string {
	return s.path(s.app.StopURL(s.t.Context(), customer))
}

// path is the path of an address of the shop.
func (s *testShop) path(address string, err error) string {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
	path, ok := strings.CutPrefix(address, s.app.Config.Shop.URL)
	if !ok {
		s.t.Fatalf("%q is no address of the shop", address)
	}
	return path
}

func (s *testShop) facts(boat string) schedule.Facts {
	s.t.Helper()
	f, err := s.app.Facts(s.t.Context(), boat)
	if err != nil {
		s.t.Fatal(err)
	}
	return f
}

func (s *testShop) plan(boat string) schedule.BoatPlan {
	s.t.Helper()
	p, err := s.app.DB.Plan(s.t.Context(), boat)
	if err != nil {
		s.t.Fatal(err)
	}
	return p
}

// feed is the text of a customer's calendar, a moment later: what it last was
// is believed for a second.
func (s *testShop) feed(customer string) string {
	s.t.Helper()
	s.now = s.now.Add(2 * time.Second)
	return s.get(s.path(s.app.FeedURL(s.t.Context(), "customer", customer))).code(http.StatusOK).Body.String()
}

// fingerprint is a hash over every row of every table.
func (s *testShop) fingerprint() string {
	s.t.Helper()
	db, err := sql.Open("sqlite", "file:"+s.app.DB.Path()+"?mode=ro")
	if err != nil {
		s.t.Fatal(err)
	}
	defer db.Close()
	sum := sha256.New()
	tables := s.query(db, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
	if len(tables) < 10 {
		s.t.Fatalf("only %d tables", len(tables))
	}
	for _, row := range tables {
		name := fmt.Sprint(row[0])
		var lines []string
		for _, r := range s.query(db, `SELECT * FROM "`+name+`"`) {
			lines = append(lines, fmt.Sprintln(name, r))
		}
		slices.Sort(lines)
		fmt.Fprint(sum, lines)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

func (s *testShop) query(db *sql.DB, q string) [][]any {
	s.t.Helper()
	rows, err := db.Query(q)
	if err != nil {
		s.t.Fatal(q, err)
	}
	defer rows.Close()
	cols, err := rows.Columns()
	if err != nil {
		s.t.Fatal(err)
	}
	var all [][]any
	for rows.Next() {
		vals, ptrs := make([]any, len(cols)), make([]any, len(cols))
		for i := range vals {
			ptrs[i] = &vals[i]
		}
		if err := rows.Scan(ptrs...); err != nil {
			s.t.Fatal(err)
		}
		all = append(all, vals)
	}
	if err := rows.Err(); err != nil {
		s.t.Fatal(err)
	}
	return all
}
