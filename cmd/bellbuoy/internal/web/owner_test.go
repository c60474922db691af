package web_test

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

// ownerShop is an invented shop with years of history, its past seasons worked
// out. A browser on this machine may sign in: its cookies need no https.
func ownerShop(t testing.TB) *testShop {
	t.Helper()
	s := emptyTestShop(t, ownerSettings())
	s.takeHistory(60)
	return s
}

func ownerSettings() string {
	settings := strings.Replace(shopSettings, "https://service.lindrake.example", "http://127.0.0.1", 1)
	for _, p := range demo.Places() {
		if !strings.Contains(settings, p.Name) {
			settings += fmt.Sprintf("[[place]]\nname = %q\nlaunch = %q\nwinterize_by = %q\n", p.Name, p.Launch, p.LayUp)
		}
	}
	return settings
}

// takeHistory takes so many invented boats in with six years of history, plans
// them and works out the past seasons.
func (s *testShop) takeHistory(boats int) {
	s.t.Helper()
	dir := s.t.TempDir()
	if err := demo.WriteParts(dir, demo.Parts(rand.New(rand.NewPCG(1, 0)), s.today(), boats, 6)); err != nil {
		s.t.Fatal(err)
	}
	s.intake(dir, "customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv")
	if err := figures.Replay(s.t.Context(), s.app, s.today(), nil); err != nil {
		s.t.Fatal(err)
	}
	drawSome(s.t, s)
}

// drawSome draws lots for the shop's customers, one in five held back: of two
// springs that are over, and of days that are still being watched.
func drawSome(t testing.TB, s *testShop) {
	t.Helper()
	tenures, err := report.Tenures(t.Context(), s.app.DB)
	if err != nil {
		t.Fatal(err)
	}
	var draws []schedule.Holdout
	for i, x := range tenures {
		for _, on := range []civil.Day{testkit.Day(2025, 4, 10), testkit.Day(2026, 4, 10), s.today() - 20} {
			if x.To == 0 {
				draws = append(draws, schedule.Holdout{
					CustomerID: x.Customer.ID, BoatID: x.Boat.ID, VisitID: fmt.Sprint(x.Boat.ID, ".fit-out.", on.Year(), i), On: on, Held: i%5 == 0, Percent: 20,
				})
			}
		}
	}
	if err := outbox.SaveHoldouts(t.Context(), storetest.Writer(t, s.app.DB), draws); err != nil {
		t.Fatal(err)
	}
}

// ownerPages are the owner's pages, a list of each kind, and the phone round
// that takes the owner's wishes.
func ownerPages() []string {
	pages := []string{
		"/owner", "/owner/compare", "/owner/season", "/owner/season?season=2025-spring", "/owner/season?season=2001-spring", "/owner/second-reminder", "/owner/returning", "/owner/ahead",
		"/owner/lapsed", "/owner/work", "/owner/report", "/owner/words", "/owner/list/work?month=2026-10&sold=yes",
		fmt.Sprint("/owner/list/sales?year=", 2024+testkit.Years(), "&season=2026-spring&returned=no"), "/owner/list/times?of=lapse", "/owner/list/season?season=2026-autumn&reach=due",
		"/owner/list/expected?month=2027-04", "/owner/list/lapsed", "/owner/list/hours?week=2026-W40", "/owner/list/visits", "/owner/list/warranty?fate=open",
		"/owner/list/parts", "/owner/list/second-reminders?comparison=yes", "/calls",
	}
	for i := range pages {
		pages[i] = testkit.Text(pages[i])
	}
	return pages
}

// TestOwnerLinksLeadSomewhere follows every link and picture of the owner's
// pages once.
func TestOwnerLinksLeadSomewhere(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	s := ownerShop(t)
	cookie := s.hire("Odile", "owner")
	links := regexp.MustCompile(`(?:href|src)="(/owner[^"#]*)`)
	seen := make(map[string]bool)
	for _, path := range ownerPages() {
		body := s.as(cookie, "GET", path, nil).code(http.StatusOK).Body.String()
		for _, m := range links.FindAllStringSubmatch(body, -1) {
			link := strings.ReplaceAll(m[1], "&amp;", "&")
			if seen[link] {
				continue
			}
			seen[link] = true
			if a := s.as(cookie, "GET", link, nil); a.Code != http.StatusOK {
				t.Errorf("%s links to %s, which answers %d", path, link, a.Code)
			}
		}
	}
	if len(seen) < 100 {
		t.Errorf("only %d links found", len(seen))
	}
}

// TestOwnerPagesAreTheOwners: nobody else opens them, signed in or not.
func TestOwnerPagesAreTheOwners(t *testing.T) {
	s := ownerShop(t)
	desk := s.hire("Inge", "desk")
	for _, path := range append(ownerPages()[:len(ownerPages())-1], "/owner/csv/away", "/owner/chart/money") {
		s.as(desk, "GET", path, nil).code(http.StatusForbidden)
		if a := s.get(path); a.Code == http.StatusOK {
			t.Errorf("%s opens without signing in", path)
		}
	}
	s.as(desk, "POST", "/owner/lapsed", url.Values{"boat": {"B00001"}}).code(http.StatusForbidden)
}

// TestOwnerListAsCSV: the file holds what the page counts.
func TestOwnerListAsCSV(t *testing.T) {
	s := ownerShop(t)
	cookie := s.hire("Odile", "owner")
	page := s.as(cookie, "GET", "/owner/list/work?month=2026-10&sold=yes", nil).code(http.StatusOK).Body.String()
	if !strings.Contains(page, `<td class="day">2026-10-`) {
		t.Error("the days of the list may break in two")
	}
	n := regexp.MustCompile(`<strong>(\d+) rows?</strong>`).FindStringSubmatch(page)
	file := s.as(cookie, "GET", "/owner/csv/work?month=2026-10&sold=yes", nil).code(http.StatusOK)
	rows, err := csv.NewReader(file.Body).ReadAll()
	if err != nil || n == nil || fmt.Sprint(len(rows)-1) != n[1] || len(rows) < 2 {
		t.Fatalf("%d lines, the page says %v, %v", len(rows), n, err)
	}
	if got := file.Header().Get("Content-Disposition"); got != `attachment; filename="work-2026-11-25.csv"` {
		t.Errorf("Content-Disposition %q", got)
	}
	for _, path := range []string{"/owner/list/work?colour=red", "/owner/csv/boats", "/owner/season?season=winter"} {
		s.as(cookie, "GET", path, nil).code(http.StatusBadRequest)
	}
	s.as(cookie, "GET", "/owner/chart/pie", nil).code(http.StatusNotFound)
}

// TestOwnerPutsOnTheCallList: the desk finds the customer there until a call
// is logged.
func TestOwnerPutsOnTheCallList(t *testing.T) {
	s := ownerShop(t)
	owner, desk := s.hire("Odile", "owner"), s.hire("Inge", "desk")
	page := s.as(owner, "GET", "/owner/lapsed", nil).code(http.StatusOK).Body.String()
	m := regexp.MustCompile(`name="boat" value="([^"]+)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatal("nobody has slipped away")
	}
	s.as(desk, "GET", "/calls", nil).silent("wants them called")
	s.as(owner, "POST", "/owner/lapsed", url.Values{"boat": {m[1]}}).code(http.StatusSeeOther)
	s.as(owner, "GET", "/owner/lapsed", nil).says("on the call list")
	s.as(desk, "GET", "/calls", nil).says("wants them called", "has not been here since")
	s.as(owner, "POST", "/owner/lapsed", url.Values{"boat": {"no such boat"}}).code(http.StatusNotFound)
	s.as(desk, "GET", "/boats/"+m[1]+"/call?back=/calls", nil).code(http.StatusOK)
}

// TestOwnerPagesAreValid asks html-validate about every page.
func TestOwnerPagesAreValid(t *testing.T) {
	s := ownerShop(t)
	cookie := s.hire("Odile", "owner")
	dir := t.TempDir()
	for i, path := range ownerPages() {
		body := s.as(cookie, "GET", path, nil).code(http.StatusOK).Body.Bytes()
		if strings.Contains(string(body), " style=") {
			t.Errorf("%s holds a style of its own, which its policy forbids", path)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%02d.html", i)), body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	validHTML(t, dir, htmlConfig)
}

// TestOwnerPagesInABrowser: axe-core finds nothing, light or dark, no page
// scrolls sideways on a phone, a tablet or a screen, and no picture is broken.
func TestOwnerPagesInABrowser(t *testing.T) {
	ctx := openBrowser(t)
	s := ownerShop(t)
	s.hire("Odile", "owner")
	base := s.serve()
	signIn(ctx, t, base, "Odile")
	// One list stands for all: they are one page, and axe-core is slow on rows.
	pages := append(ownerPages()[:11:11], "/owner/list/warranty?fate=open", "/calls")
	looksRight(ctx, t, base, pages)
}
