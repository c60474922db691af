package web_test

import (
	"context"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellbuoy/schedule"
	"bellbuoy/store/report"
)

// from begins a task on a page, signed in.
func (d *day) from(path string) {
	d.t.Helper()
	// What the last press still loads is broken off, and sometimes this with it.
	for tries := 1; ; tries++ {
		_, err := chromedp.Run(d.ctx, chromedp.Navigate(d.base+path))
		if err == nil {
			break
		}
		if !strings.Contains(err.Error(), "ERR_ABORTED") || tries == 20 {
			d.t.Fatalf("open %s: %v", path, err)
		}
		time.Sleep(100 * time.Millisecond)
	}
	mustDo(d.ctx, d.t, "see "+path, chromedp.WaitVisible(chromedp.CSS("#find")))
	d.clicks, d.keys, d.begun = 0, 0, time.Now()
}

// find types into the search and presses Enter, which counts as a click.
func (d *day) find(text, then string) {
	d.t.Helper()
	d.clicks++
	d.keys += len(text)
	mustDo(d.ctx, d.t, "find "+text, chromedp.SendKeys(chromedp.CSS("#find"), text+"\r"), chromedp.WaitVisible(chromedp.CSS(then)))
}

// types writes into fields, over what is there. A day is eight keys in any browser.
func (d *day) types(fields map[string]string) {
	d.t.Helper()
	for name, text := range fields {
		if d.keys += len(text); isDay.MatchString(text) {
			d.keys -= len("--")
		}
		evaluate[chromedp.Void](d.ctx, d.t, `{const f = document.querySelector('main [name="`+name+`"]'); f.value = "`+text+`"; f.dispatchEvent(new Event("change"))}`)
	}
}

var isDay = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)

// pressesTwice presses a button two times, faster than the page answers.
func (d *day) pressesTwice(selector, then string) {
	d.t.Helper()
	d.clicks++
	evaluate[chromedp.Void](d.ctx, d.t, `{const b = document.querySelector('`+selector+`'); b.form.requestSubmit(b); b.form.requestSubmit(b)}`)
	mustDo(d.ctx, d.t, "press twice", chromedp.WaitVisible(chromedp.CSS(then)))
}

// whatACallerSays does what a caller asks for while they are on the line, each
// from the due list, with buttons pressed twice.
func whatACallerSays(t *testing.T, table *taskTable) {
	ctx := openBrowser(t)
	s := localShop(t)
	if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	if _, err := s.app.SendPage(t.Context(), s.now, "W3"); err != nil {
		t.Fatal(err)
	}
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	d := &day{t: t, ctx: ctx, base: base, table: table}
	for _, c := range []struct{ what, text, then string }{
		{"find by name", "dunmarrow", "#history"}, {"find by phone", "+1 (296) 555.0122", "#history"}, {"find by HIN", "QXT 8L2D9 A818", "#history"},
		{"find by two words", "piotr heron", "#history"}, {"find by town", "lindrake cove", "main .log .boat"},
	} {
		d.from("/")
		d.find(c.text, c.then)
		d.within(1, c.what)
	}
	for _, task := range callerTasks(s) {
		t.Run(task.name, func(t *testing.T) {
			d.t = t
			d.from("/")
			before := s.changesOf(task.boat, task.customer)
			task.do(d)
			d.within(task.most, task.name)
			if wrote := s.changesOf(task.boat, task.customer) - before; wrote > task.writes {
				t.Errorf("%d changes were written, want %d", wrote, task.writes)
			}
			task.check(t)
		})
	}
}

// changesOf counts the change history.
func (s *testShop) changesOf(boat, customer string) int {
	s.t.Helper()
	ctx := context.Background()
	all, err := report.Changes(ctx, s.app.DB, boat, 0, 1000)
	if boat == "" {
		all, err = report.CustomerChanges(ctx, s.app.DB, customer, 0, 1000)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return len(all)
}

// onlyBoatOf is the boat of a customer who is on file once and has one.
func (s *testShop) onlyBoatOf(t *testing.T, name string) schedule.Boat {
	t.Helper()
	c, err := s.app.DB.FindCustomers(t.Context(), name, 5)
	if err != nil || len(c) != 1 {
		t.Fatalf("%d customers are called %s (%v), want one", len(c), name, err)
	}
	boats, err := s.app.DB.BoatsOf(t.Context(), c[0].ID)
	if err != nil || len(boats) != 1 {
		t.Fatalf("%d boats of %s (%v), want one", len(boats), name, err)
	}
	return boats[0]
}

// callerTask is something that a caller asks for.
type callerTask struct {
	name           string
	most           int    // clicks
	boat, customer string // whose changes are counted
	writes         int    // changes that it makes
	do             func(*day)
	check          func(*testing.T)
}

func callerTasks(s *testShop) []callerTask {
	nothing := func(*testing.T) {}
	return []callerTask{
		{name: "change a phone number", most: 4, customer: "W1", writes: 1, do: func(d *day) {
			d.find("perch", "#history")
			d.click("the owner", `.own a[href^="/customers/"]`, "#contacts")
			d.click("change", `a[href$="/edit"]`, `[name="phone"]`)
			d.types(map[string]string{"phone": "296-555-0777"})
			d.pressesTwice(`main form button`, "main .note")
		}, check: func(t *testing.T) {
			if c, err := s.app.DB.Customer(t.Context(), "W1"); err != nil || c.Phone != "296-555-0777" {
				t.Errorf("on file %q (%v)", c.Phone, err)
			}
		}},
		{name: "edit a boat", most: 3, boat: "PERCH", writes: 1, do: func(d *day) {
			d.find("perch", "#history")
			d.click("change", `a[href$="/edit"]`, `[name="boat_name"]`)
			d.types(map[string]string{"berth": "own-dock"})
			d.pressesTwice(`main form button`, "main .note")
		}, check: func(t *testing.T) {
			if b := s.facts("PERCH").Boat; b.Berth != "own-dock" {
				t.Errorf("kept %s", b.Berth)
			}
		}},
		{name: "add an engine", most: 4, boat: "PUFFIN", writes: 1, do: func(d *day) {
			d.find("slow sunday", "#history")
			d.click("add a component", `a[href$="/part"]`, ".choices")
			d.click("an engine", `a[href$="part_kind=engine"]`, `[name="propulsion"]`)
			d.types(map[string]string{"label": "Kicker", "propulsion": "outboard", "fuel": "gasoline", "stroke": "four"})
			d.pressesTwice(`main form button`, "main .note")
		}, check: func(t *testing.T) {
			n := 0
			for _, c := range s.facts("PUFFIN").Components {
				if c.Label == "Kicker" {
					n++
				}
			}
			if n != 1 {
				t.Errorf("%d engines were added, want one", n)
			}
		}},
		{name: "stop emails", most: 4, customer: "W1", writes: 1, do: func(d *day) {
			d.find("maren", "#history")
			d.click("the owner", `.own a[href^="/customers/"]`, "#contacts")
			d.click("none", `[name="mails"][value="none"]`, "#emails")
			d.pressesTwice(`form[action$="/mails"] button`, ".note.done")
		}, check: func(t *testing.T) {
			if r, err := s.app.Recipient(t.Context(), "W1"); err != nil || !r.NoMail {
				t.Errorf("emails still go out (%v)", err)
			}
		}},
		{name: "read a sent email", most: 2, customer: "W3", do: func(d *day) {
			d.find("odalys", "#contacts")
			d.click("the email", `a[href^="/emails/"]`, "pre.letter")
			d.reads("You asked us for the link to your page.")
		}, check: nothing},
		{name: "inactive", most: 4, boat: "LARK", writes: 3, do: func(d *day) {
			d.find("blue hour", "#history")
			d.click("change of owner", `a[href$="/owner"]`, `[name="what"]`)
			d.click("inactive", `[name="what"][value="gone"]`, `[name="what"]`)
			d.pressesTwice(`input[name="kind"][value="ended"] ~ button`, "main .note")
		}, check: func(t *testing.T) {
			if b := s.facts("LARK").Boat; b.Gone == 0 {
				t.Error("it is not inactive")
			}
		}},
		{name: "undo a record", most: 2, boat: "HERON", writes: 8, do: func(d *day) {
			d.find("heron", "#history")
			d.click("record", `a[href$="/record"]`, "#note")
			d.types(map[string]string{"free0": "impeller", "part0": "HERON-E1"})
			d.click("save", `main form button`, `a[href*="/take-back?day="]`)
			d.clicks, d.keys = 0, 0 // it stands recorded, and was a mistake
			d.click("take it back", `a[href*="/take-back?day="]`, `[name="record"]`)
			d.pressesTwice(`main form button`, "main .note, h1")
		}, check: func(t *testing.T) {
			for _, r := range s.facts("HERON").Records {
				if r.Day == s.today() && r.Service == "impeller" && r.By == schedule.ByShop {
					t.Error("it is still on record")
				}
			}
		}},
		{name: "change history", most: 1, boat: "PERCH", do: func(d *day) {
			d.find("perch", "#changes")
			d.reads("Change history")
		}, check: nothing},
		{name: "new sale", most: 12, customer: "NC0001", writes: 20, do: func(d *day) {
			d.click("more", `nav summary`, `nav a[href="/sold"]`)
			d.click("new sale", `nav a[href="/sold"]`, `[name="name"]`)
			d.types(map[string]string{"name": "Runa Fen", "phone": "555-0198", "contact_by": "phone", "hin": "QXB99K7T2E61", "make": "Brackenhull", "year": "2016", "kind": "fishing", "water": "fresh",
				"place": "Lindrake Cove", "berth": "trailer-home", "propulsion1": "outboard", "fuel1": "gasoline"})
			d.pressesTwice(`form.sale > p button`, ".qr, [role=alert]")
		}, check: func(t *testing.T) {
			if b := s.onlyBoatOf(t, "Runa Fen"); b.SoldOn != s.today() {
				t.Errorf("on file %+v", b)
			}
		}},
		{name: "a boat that we did not sell", most: 4, customer: "NC0002", writes: 20, do: func(d *day) {
			d.click("more", `nav summary`, `nav a[href="/sold"]`)
			d.click("new sale", `nav a[href="/sold"]`, `[name="name"]`)
			d.click("not sold by us", `a[href="/sold?origin=service"]`, `.lead a[href="/sold"]`)
			d.types(map[string]string{"name": "Nils Fen", "phone": "555-0199", "contact_by": "phone", "make": "Brackenhull", "kind": "fishing", "water": "fresh", "place": "Lindrake Cove",
				"berth": "trailer-home", "propulsion1": "outboard", "fuel1": "gasoline"})
			d.pressesTwice(`form.sale > p button`, "main .note, #history")
		}, check: func(t *testing.T) {
			if b := s.onlyBoatOf(t, "Nils Fen"); b.SoldOn != 0 {
				t.Errorf("on file %+v", b)
			}
		}},
	}
}
