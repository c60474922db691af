package web_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellbuoy/schedule/testkit"
)

// day is a person at the desk who counts clicks (a click or Enter is one) and keys.
type day struct {
	t            *testing.T
	ctx          context.Context
	base         string
	clicks, keys int
	begun        time.Time
	table        *taskTable // nil for tasks that stand in none
}

// click clicks on something and waits for what comes after it.
func (d *day) click(what, selector, then string) {
	d.t.Helper()
	d.clicks++
	mustDo(d.ctx, d.t, what, chromedp.Click(chromedp.CSS(selector)), chromedp.WaitVisible(chromedp.CSS(then)))
}

// within wants a task to have taken at most so many clicks, and counts again.
func (d *day) within(most int, task string) {
	d.t.Helper()
	d.t.Logf("%s: %d clicks, %d keys", task, d.clicks, d.keys)
	if d.clicks > most {
		d.t.Errorf("%s took %d clicks, at most %d", task, d.clicks, most)
	}
	if d.table != nil {
		d.table.rows = append(d.table.rows, taskRow{task, d.clicks, d.keys, time.Since(d.begun)})
	}
	d.clicks, d.keys, d.begun = 0, 0, time.Now()
}

// reads wants words on the page that is open.
func (d *day) reads(words string) {
	d.t.Helper()
	got := evaluate[string](d.ctx, d.t, `document.querySelector("main").innerText`)
	if !strings.Contains(strings.Join(strings.Fields(got), " "), words) {
		d.t.Errorf("the page does not say %q: %s", words, got)
	}
}

// TestADayAtTheDesk signs in, books in two clicks, records a visit in at most
// four and logs a call in two, all from this week, with scripts and without.
func TestADayAtTheDesk(t *testing.T) {
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
			s.hire("Inge", "desk")
			base := s.serve()
			mustDo(ctx, t, "prepare", c.prep...)
			signIn(ctx, t, base, "Inge")
			d := &day{t: t, ctx: ctx}
			week := "/?week=" + s.nextVisit("PERCH").Week.String()
			mustDo(ctx, t, "open the week", chromedp.Navigate(base+week), chromedp.WaitVisible(chromedp.CSS(".tally")))

			d.click("book", `a[href^="/boats/PERCH/book"]`, "#day")
			d.click("book that day", `button[value="book"]`, ".note.done")
			d.within(2, "book a visit")
			d.reads("Perch Pressure is booked for")
			b := s.nextVisit("PERCH").Booking
			if b == nil || b.Day <= s.today() {
				t.Fatalf("booking %+v", b)
			}

			// The day has come.
			s.now = b.Day.At(16, 0, s.app.Config.Zone())
			s.hire("Inge", "desk") // yesterday's session is over
			signIn(ctx, t, base, "Inge")
			before := s.nextVisit("PERCH").ID
			d.click("record", `a[href^="/boats/PERCH/record"]`, "#note")
			mustDo(ctx, t, "type the hours", chromedp.SendKeys(chromedp.CSS("#hours-PERCH-E1"), "333"))
			d.click("write it down", `main form button`, "h2")
			d.within(4, "record a finished visit")
			d.reads("Saved.")
			if after := s.nextVisit("PERCH").ID; after == before {
				t.Errorf("visit %s is still planned after it was recorded", after)
			}

			s.now = testkit.Day(2027, 4, 20).At(10, 0, s.app.Config.Zone())
			s.hire("Inge", "desk")
			signIn(ctx, t, base, "Inge")
			mustDo(ctx, t, "open the phone round", chromedp.Navigate(base+"/calls"), chromedp.WaitVisible(chromedp.CSS(".log")))
			d.click("log a call", `a[href^="/boats/HERON/call"]`, "#note")
			d.click("no answer", `button[value="no-answer"]`, ".note.done")
			d.within(2, "log a call")
			d.reads("Call to Piotr Dunmarrow logged: no answer.")
		})
	}
}
