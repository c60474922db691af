package web_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellbuoy/schedule/testkit"
)

// myPages are the customers' pages with something on each: a boat planned, one
// booked, one sold, an answer of each kind on the list.
func (s *testShop) myPages() []string {
	s.t.Helper()
	my := s.my("W1")
	v := s.nextVisit("PERCH")
	visit := my + "/visit/" + url.PathEscape(v.ID)
	day := dayOffered(s.t.(*testing.T), s.get(visit))
	w3 := s.my("W3")
	booked := s.nextVisit("PUFFIN").ID
	s.post(w3+"/answer", url.Values{"kind": {"take"}, "visit": {booked}, "day": {dayOffered(s.t.(*testing.T), s.get(w3+"/visit/"+url.PathEscape(booked)))}}).code(http.StatusSeeOther)
	s.post(w3+"/answer", url.Values{"kind": {"sold"}, "boat": {"LARK"}, "note": {"to a neighbour"}}).code(http.StatusSeeOther)
	s.post(my+"/answer", url.Values{"kind": {"call"}, "visit": {v.ID}, "note": {"after six"}}).code(http.StatusSeeOther)
	done := s.post(my+"/answer", url.Values{"kind": {"mails"}, "mails": {"booked"}}).code(http.StatusSeeOther).to()
	d := mustDay(s.t, day)
	return []string{
		my, visit, visit + "?week=" + (d.Week() + 1).String(), done, my + "/calendar", my + "/calendar?renewed=1", my + "?undone=1",
		w3, w3 + "/visit/" + url.PathEscape(booked), s.my("W2"), my + "/visit/nothing", "/my/nonsense", s.stopPath("W1"), s.stopPath("W2"),
	}
}

// ownershipPages are the desk's pages of sales and changes of owner.
func (s *testShop) ownershipPages() []string {
	return []string{
		"/replies", "/sold", "/sold?find_hin=QXB3K7T2E616", "/sold?find_hin=Q0X", "/sold?find_buyer=odalys", "/sold?customer=W3&boat=LARK",
		"/boats/LARK/owner", "/boats/HERON/owner?find_buyer=maren", "/boats/HERON/owner?customer=W1", "/boats/PERCH/delivery-sheet",
	}
}

// TestMyPagesAreValid asks html-validate about every page of the customers, and
// of sales, and weighs it.
func TestMyPagesAreValid(t *testing.T) {
	for language, settings := range inBoth {
		t.Run(language, func(t *testing.T) { myPagesAreValid(t, localShopBy(t, settings)) })
	}
}

// inBoth are settings of shops of which one speaks English, the other French.
var inBoth = map[string]string{"en": shopSettings, "fr": frenchSettings}

func myPagesAreValid(t *testing.T, s *testShop) {
	cookie := s.hire("Odile", "owner")
	dir := t.TempDir()
	for i, path := range append(s.myPages(), s.ownershipPages()...) {
		body := s.as(cookie, "GET", path, nil).Body.Bytes()
		if len(body) > mostBytes {
			t.Errorf("%s weighs %d bytes, at most %d", path, len(body), mostBytes)
		}
		for _, not := range []string{"<script", " style=", " onclick=", "<style", "ZgotmplZ"} {
			if strings.Contains(string(body), not) {
				t.Errorf("%s holds %q", path, not)
			}
		}
		if err := os.WriteFile(filepath.Join(dir, strconv.Itoa(i)+".html"), body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	// Boxes of one list share a name, as radio buttons do.
	validHTML(t, dir, strings.Replace(htmlConfig, `["radio"`, `["radio", "checkbox"`, 1))
}

// TestChoosingPagesAreValid asks html-validate about the pages that offer hours, one boat's
// and that for all boats, and about the one that confirms several replies.
func TestChoosingPagesAreValid(t *testing.T) {
	for language, settings := range inBoth {
		t.Run(language, func(t *testing.T) { choosingPagesAreValid(t, emptyTestShop(t, settings+dropOffTimes)) })
	}
}

func choosingPagesAreValid(t *testing.T, s *testShop) {
	s.intake(workedFolder(t), workedFiles...)
	s.now = mustDay(t, "2027-04-05").At(9, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	my, dir := s.my("W3"), t.TempDir()
	v, o := s.nextVisit("PUFFIN"), s.nextVisit("LARK")
	day := choices(s.get(my + "/together"))[0]
	pages := []string{my, my + "/together", my + "/together?visits%5B%5D=" + url.QueryEscape(v.ID), my + "/visit/" + url.PathEscape(v.ID)}
	for i, path := range pages {
		if err := os.WriteFile(filepath.Join(dir, strconv.Itoa(i)+".html"), s.get(path).code(http.StatusOK).Body.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	done := s.post(my+"/together", url.Values{"visits[]": {v.ID, o.ID}, "day": {day}}).code(http.StatusSeeOther).to()
	if err := os.WriteFile(filepath.Join(dir, "done.html"), s.get(done).code(http.StatusOK).Body.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	validHTML(t, dir, strings.Replace(htmlConfig, `["radio"`, `["radio", "checkbox"`, 1))
}

// TestMyPagesInABrowser opens every page of the customers, and of sales, in
// Chromium: axe-core finds nothing, light or dark, and no page scrolls sideways.
func TestMyPagesInABrowser(t *testing.T) {
	for language, settings := range inBoth {
		t.Run(language, func(t *testing.T) {
			ctx := openBrowser(t)
			s := localShopBy(t, settings)
			s.hire("Odile", "owner")
			pages := append(s.myPages(), "/boats/PERCH/delivery-sheet")
			if language == "en" {
				pages = append(pages, s.ownershipPages()...)
			}
			base := s.serve()
			signIn(ctx, t, base, "Odile")
			looksRight(ctx, t, base, pages)
		})
	}
}

// TestACustomerAnswers follows a customer on a telephone: open the link, take a
// day, take it back, say that all was done elsewhere; plan and calendar follow,
// with scripts and without.
func TestACustomerAnswers(t *testing.T) {
	for _, c := range []struct {
		name string
		prep []chromedp.Action[chromedp.Void]
	}{
		{"with scripts", nil},
		{"without", []chromedp.Action[chromedp.Void]{scriptsOff()}},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx := openBrowser(t)
			s := localShop(t)
			base := s.serve()
			my, visit := s.my("W1"), s.nextVisit("PERCH").ID
			before := strings.Count(s.feed("W1"), "STATUS:CONFIRMED")
			d := &day{t: t, ctx: ctx}
			mustDo(ctx, t, "prepare", append(c.prep, width(320))...)
			mustDo(ctx, t, "open the link", chromedp.Navigate(base+my), chromedp.WaitVisible(chromedp.CSS(".boatname")))
			d.reads("planned, not booked yet")

			d.click("answer", `a[href^="`+my+`/visit/"]`, "#take")
			d.click("fix the day", `form input[value="take"] ~ button`, ".note.done")
			d.within(2, "take a day")
			d.reads("booked.")
			b := s.nextVisit("PERCH").Booking
			if b == nil || b.Day <= s.today() {
				t.Fatalf("booking %+v", b)
			}
			if n := strings.Count(s.feed("W1"), "STATUS:CONFIRMED"); n != before+1 {
				t.Errorf("the calendar holds %d fixed days, want %d", n, before+1)
			}

			d.click("take it back", `form[action$="/undo"] button`, ".boatname")
			d.reads("Taken back. Everything is as it was before.")
			if s.nextVisit("PERCH").Booking != nil {
				t.Error("the visit is still booked")
			}

			d.click("answer again", `a[href^="`+my+`/visit/"]`, "#take")
			d.click("done elsewhere", `details:has(input[value="elsewhere"]) > summary`, `input[name="all"]`)
			d.click("all of it", `input[name="all"]`, `input[name="all"]`)
			mustDo(ctx, t, "the day", chromedp.SendKeys(chromedp.CSS(`form:has(input[value="elsewhere"]) input[type="date"]`), testkit.Day(2027, 4, 10).At(12, 0, time.UTC).Format("01022006")))
			d.click("it was done", `form:has(input[value="elsewhere"]) button`, ".note.done")
			d.reads("Done elsewhere, as you told us:")
			if now := s.nextVisit("PERCH").ID; now == visit {
				t.Errorf("visit %s is still planned", now)
			}
			if strings.Contains(unfold(s.feed("W1")), url.PathEscape(visit)) {
				t.Error("the calendar still holds the visit")
			}
		})
	}
}
