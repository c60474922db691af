package web_test

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellbuoy/schedule/testkit"
)

// TestTheTasksOfAWeek drives each task of a desk in a real browser, from the due
// list and signed in, and counts clicks (a click or Enter is one) and keys. What is
// pressed again after Back, or twice, writes nothing a second time.
func TestTheTasksOfAWeek(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	d := &tasks{day: day{t: t, ctx: ctx}, base: base}

	d.from("/")
	d.click("the week after", `a[rel="next"]`, ".tally")
	d.done(1, "see the week after")

	d.from("/")
	d.find("perch", `a[href^="/boats/PERCH/book"]`)
	d.done(1, "find a caller's boat")

	// A call: book, then again after Back, then move, then cancel.
	d.from("/")
	d.find("perch", `a[href^="/boats/PERCH/book"]`)
	d.click("book", `a[href^="/boats/PERCH/book"]`, "#day")
	d.click("this day", `button[value="book"]`, ".note.done")
	d.done(4, "book from a call")
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
	d.fill("#day", (first.Day + 7).String())
	d.click("to this day", `button[value="book"]`, ".note.done")
	d.done(4, "move a booked visit")
	if b := s.nextVisit("PERCH").Booking; b == nil || b.Day != first.Day+7 {
		t.Errorf("moved to %v, want %s", b, first.Day+7)
	}

	d.from("/?week=" + (first.Day + 7).Week().String())
	d.click("move", `a[href^="/boats/PERCH/book"]`, "#day")
	d.click("cancel", `button[value="unbook"]`, ".note.done")
	d.done(4, "cancel from a call")
	if s.nextVisit("PERCH").Booking != nil {
		t.Error("the booking stands")
	}

	d.from("/")
	d.find("perch", `a[href="/boats/PERCH/job"]`)
	d.click("add a job", `a[href="/boats/PERCH/job"]`, "#words")
	d.keys("#words", "New horn")
	d.keys("#minutes", "45")
	d.click("add it", `main form button`, "#day")
	d.click("book its visit", `button[value="book"]`, `a[href="/boats/PERCH/job"]`)
	d.done(6, "job by phone")
	if n := len(s.facts("PERCH").FollowUps); n != 1 {
		t.Errorf("%d jobs", n)
	}

	d.from("/")
	d.click("the sheets", `a[href^="/sheets?day="]`, ".work-sheet")
	d.done(2, "print tomorrow's sheets")
	d.reads("New horn")

	d.from("/")
	d.click("weeks", `nav a[href="/weeks"]`, "#technician")
	d.fill("#from", (s.today() + 20).String())
	d.click("take it", `button[value="absent"]`, ".note.done")
	d.done(3, "technician absent")
	if all, err := s.house.DB.Absences(t.Context(), s.today()); err != nil || len(all) != 1 {
		t.Errorf("time off %v, error %v", all, err)
	}

	// The day of the visit: recorded with a finding.
	s.now = testkit.Day(2027, 5, 4).At(15, 0, s.house.Config.Zone())
	s.on(s.today())
	s.hire("Inge", "desk")
	signIn(ctx, t, base, "Inge")
	visit := s.nextVisit("HERON")
	records := func() int { return len(s.facts("HERON").Records) }
	was := records()
	d.from("/?week=" + visit.Week.String())
	d.click("record", `a[href^="/boats/HERON/record"]`, "#note")
	d.click("a finding", `details:has(#finding) > summary`, "#finding")
	d.keys("#finding", "shaft seal weeps")
	mustDo(ctx, t, "choose the work that settles it", chromedp.SendKeys(chromedp.CSS("#finding-service"), "Shaft"))
	d.click("record", `main form button[type=submit]`, "h2")
	d.done(3, "record as planned, with a finding")
	if records() <= was {
		t.Error("nothing was recorded")
	}
}

// tasks counts what a task takes.
type tasks struct {
	day
	base  string
	typed int
	begun time.Time
}

// from begins a task on a page.
func (d *tasks) from(path string) {
	d.t.Helper()
	mustDo(d.ctx, d.t, "open "+path, chromedp.Navigate(d.base+path), chromedp.WaitVisible(chromedp.CSS("main")))
	d.clicks, d.typed, d.begun = 0, 0, time.Now()
}

// keys types into a field.
func (d *tasks) keys(field, words string) {
	d.t.Helper()
	mustDo(d.ctx, d.t, "type into "+field, chromedp.SendKeys(chromedp.CSS(field), words))
	d.typed += len(words)
}

// fill sets a date field, which every browser types into in its own way.
func (d *tasks) fill(field, value string) {
	d.t.Helper()
	evaluate[chromedp.Void](d.ctx, d.t, `document.querySelector("`+field+`").value = "`+value+`"`)
	d.typed += len("05042027")
}

// find looks for a boat with Enter.
func (d *tasks) find(words, then string) {
	d.t.Helper()
	d.keys("#find", words)
	d.clicks++
	mustDo(d.ctx, d.t, "find", chromedp.SendKeys(chromedp.CSS("#find"), "\r"), chromedp.WaitVisible(chromedp.CSS(then)))
}

// done wants the task to have taken at most so many clicks.
func (d *tasks) done(most int, task string) {
	d.t.Helper()
	d.t.Logf("%-34s %d clicks, %2d keys, %.1f s", task, d.clicks, d.typed, time.Since(d.begun).Seconds())
	if d.clicks > most {
		d.t.Errorf("%s took %d clicks, at most %d", task, d.clicks, most)
	}
}
