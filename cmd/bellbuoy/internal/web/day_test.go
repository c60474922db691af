package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store"
)

// TestTheDayGoesByPresses follows a boat through its day: each press leads on or
// back, stands in the change history, and changes nothing that the customer sees.
func TestTheDayGoesByPresses(t *testing.T) {
	s := newTestShop(t)
	visit, day := bookedInMay(s)
	tech, desk := s.hire("Ruth", "technician"), s.hire("Inge", "desk")
	feed := func() string {
		f, err := s.app.Feed(t.Context(), link.ScopeCustomer, "W1", s.today())
		if err != nil {
			t.Fatal(err)
		}
		return string(f.Body)
	}
	before, page := feed(), s.get(s.my("W1")).text()
	press := func(was, is store.Stage) answered {
		return s.as(tech, "POST", "/day", url.Values{"visit": {visit}, "boat": {"PERCH"}, "was": {string(was)}, "do": {string(is)}, "back": {"/day"}}).code(http.StatusSeeOther)
	}
	s.as(tech, "GET", "/day?technician=all", nil).says("Perch Pressure", "any hour", "● booked", "Here").silent("Assign")
	for _, c := range []struct {
		was, is    store.Stage
		says, next string
	}{
		{store.StageBooked, store.StageHere, "here 10:00", "Waits for parts"},
		{store.StageHere, store.StageWaiting, "waiting for parts", "Parts are here"},
		{store.StageWaiting, store.StageHere, "here 10:00", "Not here after all"},
		{store.StageHere, store.StageReady, "ready 10:00", "Not ready"},
		{store.StageReady, store.StagePickedUp, "picked up", "Not picked up"},
		{store.StagePickedUp, store.StageReady, "ready 10:00", "Picked up"},
	} {
		press(c.was, c.is)
		s.as(desk, "GET", "/day", nil).says(c.says, c.next)
	}
	stale := press(store.StageBooked, store.StageHere)
	s.send("GET", "/day", nil, "Cookie", tech+"; "+cookieOf(stale)).says("somebody changed it meanwhile", "ready 10:00")
	if after := feed(); after != before {
		t.Error("the customer's calendar changed")
	}
	if after := s.get(s.my("W1")).text(); after != page {
		t.Error("the customer's page changed")
	}
	s.on(day + 1)
	s.as(s.hire("Sam", "desk"), "GET", "/day", nil).says("Still with us", "Perch Pressure", "May 4")
}

// TestATechnicianHasAnOwnList: the desk gives a visit to somebody; who signs in under
// that name sees the own list first.
func TestATechnicianHasAnOwnList(t *testing.T) {
	s := newTestShop(t)
	visit, _ := bookedInMay(s)
	name := s.app.Config.Weeks.Technicians[0].Name
	desk, own := s.hire("Desk", "desk"), s.hire(name, "technician")
	assign := url.Values{"visit": {visit}, "boat": {"PERCH"}, "do": {"assign"}, "technician": {name}, "back": {"/day"}}
	s.as(own, "GET", "/day", nil).says("Nothing is given to " + name + " on this day")
	s.as(desk, "POST", "/day", assign).code(http.StatusSeeOther)
	s.as(own, "GET", "/day", nil).says("Perch Pressure", name, "Tick jobs")
	assign.Set("technician", "Nobody of ours")
	s.as(desk, "POST", "/day", assign).code(http.StatusUnprocessableEntity).says("not among the technicians")
}

// TestTheListIsSavedOnce: what a technician ticks is recorded, and a list that was
// sent before counts once, also when its visit is no longer planned.
func TestTheListIsSavedOnce(t *testing.T) {
	s := newTestShop(t)
	visit, _ := bookedInMay(s)
	tech := s.hire("Ruth", "technician")
	path := "/boats/PERCH/work?visit=" + url.QueryEscape(visit) + "&back=%2Fday"
	page := s.as(tech, "GET", path, nil).code(http.StatusOK).says("Perch Pressure", "Save what is ticked", "Work sheet with cautions")
	form := url.Values{"form": {formOf(page)}, "visit": {visit}, "only": {"work"}, "back": {"/day"}, "by": {"shop"}, "day": {"2027-05-04"}, "job0": {"1"}, "hours-PERCH-E1": {"many"}}
	s.as(tech, "POST", "/boats/PERCH/record", form).code(http.StatusUnprocessableEntity).says("Write them like 188.5", "Save what is ticked")
	form.Set("hours-PERCH-E1", "301")
	for n := range 12 { // every job, so that the visit leaves the plan
		form.Set("job"+string(rune('0'+n%10)), "1")
	}
	count := func() int { return len(s.facts("PERCH").Records) }
	was := count()
	first := s.as(tech, "POST", "/boats/PERCH/record", form).code(http.StatusSeeOther)
	if !strings.HasPrefix(first.to(), "/day?saved=") {
		t.Errorf("led to %q", first.to())
	}
	done := count()
	if done == was {
		t.Fatal("nothing is recorded")
	}
	again := s.as(tech, "POST", "/boats/PERCH/record", form).code(http.StatusSeeOther)
	s.send("GET", "/day", nil, "Cookie", tech+"; "+cookieOf(again)).says("this was saved before; nothing is on file twice")
	if count() != done {
		t.Error("the second sending was recorded too")
	}
	s.as(tech, "GET", "/day?technician=all", nil).says("Perch Pressure")
}

// TestTheBrowserKeepsTheList: without a connection what is ticked stays in the
// browser; it is there when the list is opened again, and is sent, once, when there
// is a connection.
func TestTheBrowserKeepsTheList(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	v := s.nextVisit("PERCH")
	b := schedule.Booking{VisitID: v.ID, BoatID: "PERCH", Kind: v.Kind, Day: s.today(), Minute: 9 * 60}
	if _, err := s.app.Book(t.Context(), s.now, "desk", b, nil, true); err != nil {
		t.Fatal(err)
	}
	s.hire("Ruth", "technician")
	base := s.serve()
	signIn(ctx, t, base, "Ruth")
	list := base + "/boats/PERCH/work?visit=" + url.QueryEscape(v.ID) + "&back=%2Fday"
	was := len(s.facts("PERCH").Records)
	mustDo(ctx, t, "tick a job without a connection", width(390), chromedp.Navigate(list),
		chromedp.Click(chromedp.CSS("input[name=job0]")))
	key := evaluate[string](ctx, t, `document.querySelector("[name=form]").value`)
	evaluate[chromedp.Void](ctx, t, `Object.defineProperty(navigator, "onLine", {get: () => false, configurable: true})`)
	mustDo(ctx, t, "save it", chromedp.Click(chromedp.CSS("main form button")), chromedp.WaitVisible(chromedp.CSS("#kept")))
	if len(s.facts("PERCH").Records) != was {
		t.Fatal("it was sent")
	}
	mustDo(ctx, t, "open the list again", chromedp.Navigate(list), chromedp.WaitReady(chromedp.CSS("main form")))
	if !evaluate[bool](ctx, t, `document.querySelector("[name=job0]").checked && document.querySelector("[name=form]").value === "`+key+`"`) {
		t.Error("what was ticked is gone, or its form has another key")
	}
	mustDo(ctx, t, "open the day with a connection", chromedp.Navigate(base+"/day"), chromedp.WaitVisible(chromedp.CSS("#kept")))
	if said := evaluate[string](ctx, t, `document.getElementById("kept").textContent`); !strings.Contains(said, "what was ticked is saved") {
		t.Errorf("it says %q", said)
	}
	if len(s.facts("PERCH").Records) == was {
		t.Error("nothing is recorded")
	}
	if n := evaluate[int](ctx, t, `localStorage.length`); n > 0 {
		t.Errorf("%d lists are still kept", n)
	}
	looksRight(ctx, t, base, []string{"/day", "/day?day=" + (s.today() + 1).String(), strings.TrimPrefix(list, base)})
}

// TestTheDayAndThePartsAreValid asks html-validate about both with something on each.
func TestTheDayAndThePartsAreValid(t *testing.T) {
	s := newTestShop(t)
	visit, _ := bookedInMay(s)
	desk := s.hire("Inge", "desk")
	if err := s.app.SetStage(t.Context(), s.now, "Inge", visit, store.StageBooked, store.StageHere); err != nil {
		t.Fatal(err)
	}
	for i, from := range []string{"", "Harbor & Sons"} {
		o := store.PartOrder{Code: "PLUG-4T", Name: "Spark plugs", Unit: "piece", Quantity: 4, Supplier: from, Cost: 950, Ordered: s.today()}
		if err := s.app.OrderParts(t.Context(), s.now, "Inge", fmt.Sprint(i), []store.PartOrder{o, o}); err != nil {
			t.Fatal(err)
		}
		if err := s.app.ReceiveOrder(t.Context(), s.now, "Inge", int64(2*i+1), s.today()); err != nil {
			t.Fatal(err)
		}
	}
	dir := t.TempDir()
	for i, path := range []string{"/day", "/parts?weeks=26", "/parts/order?supplier=", "/changes"} {
		page := s.as(desk, "GET", path, nil).code(http.StatusOK).Body.Bytes()
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprint(i, ".html")), page, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	validHTML(t, dir, htmlConfig)
}
