package web_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
)

// localShop is the worked shop for a browser on this machine: its cookies need
// no https. It is spring, so that every part of the week has something in it.
func localShop(t *testing.T) *testShop { return localShopBy(t, shopSettings) }

// localShopBy is the same by other settings.
func localShopBy(t *testing.T, settings string) *testShop {
	s := emptyTestShop(t, strings.Replace(settings, "https://service.lindrake.example", "http://127.0.0.1", 1))
	s.now = testkit.Day(2027, 4, 20).At(10, 0, s.app.Config.Zone())
	s.intake(workedFolder(t), workedFiles...)
	return s
}

// springWeek is the page of the week after the one of [localShop]'s day.
func springWeek() string { return testkit.Text("/?week=2027-W17") }

// deskPages are the pages of the desk with something on each.
func (s *testShop) deskPages() []string {
	v := s.nextVisit("PERCH")
	// A call, so that lists of calls have a moment in their gutters.
	if _, err := s.app.NoteCall(s.t.Context(), s.now.Add(-72*time.Hour), store.Call{Actor: "Inge", CustomerID: "W1", BoatID: "PERCH", VisitID: v.ID, Outcome: store.CallNoAnswer}); err != nil {
		s.t.Fatal(err)
	}
	q := "?visit=" + url.QueryEscape(v.ID)
	return []string{
		"/sign-in", "/", springWeek(), "/?part=overdue", "/boats/PERCH", "/boats/HERON?history=all", "/boats/PERCH/book" + q,
		"/boats/PERCH/call" + q, "/boats/PERCH/job", "/sheets?day=2027-05-04", "/day", "/boats/PERCH/work" + q, "/boats/PERCH/record" + q, "/boats/HERON/record", "/boats/PERCH/reading", "/boats/PERCH/sheet" + q,
		"/search?q=lindrake", "/search?q=zzz", "/customers/W3", "/customers/W1", "/customers/W2/edit", "/boats/HERON/recorded?day=" + s.facts("HERON").Records[0].Day.String(), "/boats/HERON/take-back?day=" + s.facts("HERON").Records[0].Day.String(), "/boats/LARK/owner/take-back", "/boats/HERON/owner",
		"/boats/HERON/edit", "/boats/HERON/part", "/boats/HERON/part?part_kind=extinguisher", "/boats/HERON/part?part=HERON-E1", "/boats/HERON/part?part=HERON-E1&replaces=1",
		"/boats/HERON/rules", "/boats/HERON/rules?rule=coolant&component=HERON-E1", "/calls", "/weeks", "/late", "/weeks?week=" + v.Week.String(), "/parts?weeks=26", "/parts?weeks=26&part=PLUG-4T",
		"/email?days=31", "/import", "/duplicates", "/changes", "/staff", "/password", "/parts", "/no-such-page",
		"/settings", "/settings/shop", "/settings/weeks", "/settings/closed", "/settings/places", "/settings/yard", "/settings/reminders", "/settings/drop-off", "/settings/freeze",
		"/settings/planning", "/settings/formats?look=1&formats.clock=24",
	}
}

// htmlConfig are the rules that the pages are held to: the recommended ones
// but three. Phone numbers are kept on one line by the style sheet; a title
// holds the boat's name however long it is; buttons of one form share a name,
// which says what is to be done.
const htmlConfig = `{"extends": ["html-validate:recommended"], "root": true, "rules": {"tel-non-breaking": "off", "long-title": "off",
	"form-dup-name": ["error", {"shared": ["radio", "submit", "button", "reset"]}]}}`

// mostBytes is the most that a page may weigh without its pictures.
const mostBytes = 100 << 10

// TestDeskPagesAreValid asks html-validate about every page, and weighs it.
func TestDeskPagesAreValid(t *testing.T) {
	s := localShop(t)
	cookie := s.hire("Odile", "owner")
	dir := t.TempDir()
	for i, path := range s.deskPages() {
		a := s.as(cookie, "GET", path, nil)
		if path != "/no-such-page" {
			a.code(http.StatusOK)
		}
		body := a.Body.Bytes()
		if len(body) > mostBytes {
			t.Errorf("%s weighs %d bytes, at most %d", path, len(body), mostBytes)
		}
		for _, not := range []string{"<script>", "javascript:", " style=", " onclick=", "<style"} {
			if strings.Contains(string(body), not) {
				t.Errorf("%s holds %q, which its own policy forbids", path, not)
			}
		}
		name := strings.NewReplacer("/", "_", "?", "_", "&", "_", "=", "_", "%", "_").Replace(path)
		if err := os.WriteFile(filepath.Join(dir, name+string(rune('a'+i))+".html"), body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	validHTML(t, dir, htmlConfig)
}

// TestDeskPagesInABrowser opens every page in Chromium: axe-core finds nothing,
// light or dark, and no page scrolls sideways on a phone, a tablet or a screen.
func TestDeskPagesInABrowser(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.hire("Odile", "owner")
	base := s.serve()
	signIn(ctx, t, base, "Odile")
	looksRight(ctx, t, base, s.deskPages())
}

// TestSixteenRowsOnAScreen fills the first two parts of the due list with as many
// rows as they show at most, each a copy of the part's first, and counts those that
// end within 900 pixels of a screen 1440 wide.
func TestSixteenRowsOnAScreen(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	mustDo(ctx, t, "open the week", width(1440), chromedp.Navigate(base+springWeek()), chromedp.WaitVisible(chromedp.CSS(".rows > li .boat")))
	const fill = `[...document.querySelectorAll(".rows")].filter(l => l.querySelector(".boat")).slice(0, 2).forEach(l => {
		while (l.children.length < 10) l.append(l.children[0].cloneNode(true));
	})`
	evaluate[chromedp.Void](ctx, t, fill)
	const count = `[...document.querySelectorAll(".rows > li")].filter(l => l.getBoundingClientRect().bottom <= 900).length`
	if n := evaluate[int](ctx, t, count); n < 16 {
		t.Errorf("%d rows of the due list are on a screen of 1440 by 900, want at least 16", n)
	}
}

// TestArrowsGoFromRowToRow moves from the first visit's Book to the second's
// and back.
func TestArrowsGoFromRowToRow(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	cookie, week := s.hire("Odile", "owner"), s.today().Week()
	for strings.Count(s.as(cookie, "GET", "/?week="+week.String(), nil).Body.String(), "/book?") < 3 {
		week++
	}
	mustDo(ctx, t, "open the week", chromedp.Navigate(base+"/?week="+week.String()), chromedp.WaitVisible(chromedp.CSS(".log .do a")))
	const at = `[...document.querySelectorAll("main .log > li")].findIndex(li => li.contains(document.activeElement)) + " " + document.activeElement.firstChild.data`
	for _, step := range []struct{ key, want string }{
		{"", "0 Book"}, {"ArrowDown", "1 Book"}, {"ArrowDown", "2 Book"}, {"ArrowUp", "1 Book"},
	} {
		if step.key == "" {
			evaluate[chromedp.Void](ctx, t, `document.querySelector(".log .do a").focus()`)
		} else {
			evaluate[chromedp.Void](ctx, t, `document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "`+step.key+`", bubbles: true, cancelable: true}))`)
		}
		if got := evaluate[string](ctx, t, at); got != step.want {
			t.Fatalf("after %q at %q, want %q", step.key, got, step.want)
		}
	}
}
