package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"bellbuoy/schedule/testkit"
)

// theTasksOfAWeek are what a desk does in a week. What is pressed again after Back
// writes nothing a second time.
func theTasksOfAWeek(t *testing.T, table *taskTable) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	d := &day{t: t, ctx: ctx, base: base, table: table}

	d.from("/")
	d.click("the week after", `a[rel="next"]`, ".tally")
	d.within(1, "see the week after")

	d.from("/")
	d.find("perch", `a[href^="/boats/PERCH/book"]`)
	d.within(1, "find a caller's boat")

	// A call: book, then again after Back, then move, then cancel.
	d.from("/")
	d.find("perch", `a[href^="/boats/PERCH/book"]`)
	d.click("book", `a[href^="/boats/PERCH/book"]`, "#day")
	d.click("this day", `button[value="book"]`, ".note.done")
	d.within(4, "book from a call")
	first := s.nextVisit("PERCH").Booking
	if first == nil {
		t.Fatal("nothing is booked")
	}
	evaluate[chromedp.Void](ctx, t, `history.back()`)
	mustDo(ctx, t, "back on the form", chromedp.WaitVisible(chromedp.CSS("#day")))
	before := s.fingerprint()
	mustDo(ctx, t, "press again", chromedp.Click(chromedp.CSS(`button[value="book"]`)), chromedp.WaitVisible(chromedp.CSS(".alarm[role=alert], .note.done")))
	if s.fingerprint() != before {
		t.Error("Back and a second press booked again")
	}

	week := "/?week=" + first.Day.Week().String()
	d.from(week)
	d.click("move", `a[href^="/boats/PERCH/book"]`, "#day")
	d.types(map[string]string{"day": (first.Day + 7).String()})
	d.click("to this day", `button[value="book"]`, ".note.done")
	d.within(4, "move a booked visit")
	if b := s.nextVisit("PERCH").Booking; b == nil || b.Day != first.Day+7 {
		t.Errorf("moved to %v, want %s", b, first.Day+7)
	}

	d.from("/?week=" + (first.Day + 7).Week().String())
	d.click("move", `a[href^="/boats/PERCH/book"]`, "#day")
	d.click("cancel", `button[value="unbook"]`, ".note.done")
	d.within(4, "cancel from a call")
	if s.nextVisit("PERCH").Booking != nil {
		t.Error("the booking stands")
	}

	d.from("/")
	d.find("perch", `a[href="/boats/PERCH/job"]`)
	d.click("add a job", `a[href="/boats/PERCH/job"]`, "#words")
	d.types(map[string]string{"words": "New horn"})
	d.types(map[string]string{"minutes": "45"})
	d.click("add it", `main form button`, "#day")
	d.click("book its visit", `button[value="book"]`, `a[href="/boats/PERCH/job"]`)
	d.within(6, "job by phone")
	if n := len(s.facts("PERCH").FollowUps); n != 1 {
		t.Errorf("%d jobs", n)
	}

	d.from("/")
	d.click("the sheets", `a[href^="/sheets?day="]`, ".work-sheet")
	d.within(2, "print tomorrow's sheets")
	d.reads("New horn")

	d.from("/")
	d.click("weeks", `nav a[href="/weeks"]`, "#technician")
	d.types(map[string]string{"from": (s.today() + 20).String()})
	d.click("take it", `button[value="absent"]`, ".note.done")
	d.within(3, "technician absent")
	if all, err := s.app.DB.Absences(t.Context(), s.today()); err != nil || len(all) != 1 {
		t.Errorf("time off %v, error %v", all, err)
	}

	// The day of the visit: recorded with a finding.
	s.now = testkit.Day(2027, 5, 4).At(15, 0, s.app.Config.Zone())
	s.on(s.today())
	s.hire("Inge", "desk")
	signIn(ctx, t, base, "Inge")
	visit := s.nextVisit("HERON")
	records := func() int { return len(s.facts("HERON").Records) }
	was := records()
	d.from("/?week=" + visit.Week.String())
	d.click("record", `a[href^="/boats/HERON/record"]`, "#note")
	d.click("a finding", `details:has(#finding) > summary`, "#finding")
	d.types(map[string]string{"finding": "shaft seal weeps"})
	mustDo(ctx, t, "choose the work that settles it", chromedp.SendKeys(chromedp.CSS("#finding-service"), "Shaft"))
	d.click("record", `main form button[type=submit]`, "h2")
	d.within(3, "record as planned, with a finding")
	if records() <= was {
		t.Error("nothing was recorded")
	}
}
