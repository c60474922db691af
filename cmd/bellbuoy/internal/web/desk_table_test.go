package web_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// taskTable is what tasks of the desk took.
type taskTable struct{ rows []taskRow }

type taskRow struct {
	task         string
	clicks, keys int
	took         time.Duration
}

func (t *taskTable) String() string {
	var b strings.Builder
	b.WriteString("# What the desk's tasks take\n\nEach is driven in a real browser, from the due list and signed in. A click or Enter is one click. The seconds\n" +
		"are those of the machine that wrote this file; nobody has to think or to read in them.\n\n| task | clicks | keys | seconds |\n|---|--:|--:|--:|\n")
	for _, r := range t.rows {
		fmt.Fprintf(&b, "| %s | %d | %d | %.1f |\n", r.task, r.clicks, r.keys, r.took.Seconds())
	}
	return b.String()
}

// TestDeskTasks drives each task of a desk in a real browser and compares what it
// takes with testdata/desk-tasks.md, but for the seconds.
func TestDeskTasks(t *testing.T) {
	var table taskTable
	t.Run("a caller", func(t *testing.T) { whatACallerSays(t, &table) })
	t.Run("the week", func(t *testing.T) { theTasksOfAWeek(t, &table) })
	t.Run("the autumn", func(t *testing.T) { theTasksOfTheAutumn(t, &table) })
	if t.Failed() || t.Skipped() || len(table.rows) == 0 {
		return
	}
	t.Log("\n" + table.String())
	path := filepath.Join("testdata", "desk-tasks.md")
	if *update {
		if err := os.WriteFile(path, []byte(table.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	seconds := regexp.MustCompile(`\d+\.\d \|\n`)
	if seconds.ReplaceAllString(table.String(), "") != seconds.ReplaceAllString(string(want), "") {
		t.Errorf("%s is not what it was; read it and run with -update if it is better now:\n%s", path, table.String())
	}
}

// theTasksOfTheAutumn are those of lay-up time: recording in every way, calls that
// nobody takes, who will be late, and customers who are on file twice.
func theTasksOfTheAutumn(t *testing.T, table *taskTable) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.on(testkit.Day(2027, 10, 4))
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	d := &day{t: t, ctx: ctx, base: base, table: table}
	count := func(boat string) int { return len(s.facts(boat).Records) }

	// Recorded as planned, with the button pressed twice.
	layUp := s.visitOf("PERCH", schedule.LayUp)
	was := count("PERCH")
	d.from("/?week=" + layUp.Week.String())
	d.click("record", `a[href^="/boats/PERCH/record?"]`, "#note")
	d.pressesTwice(`main form button[type=submit]`, `a[href*="/take-back?day="]`)
	d.within(3, "winterization as planned")
	once := count("PERCH") - was
	if once == 0 || s.hasVisit("PERCH", layUp.ID) {
		t.Errorf("%d records, and the visit is planned still: %t", once, s.hasVisit("PERCH", layUp.ID))
	}
	services := map[string]bool{}
	for _, r := range s.facts("PERCH").Records[was:] {
		if r.Day == s.today() && services[r.ComponentID+r.Service] {
			t.Errorf("%s is on record twice", r.Service)
		}
		services[r.ComponentID+r.Service] = r.Day == s.today()
	}

	// With a job not done and another amount.
	layUp = s.visitOf("LARK", schedule.LayUp)
	d.from("/?week=" + layUp.Week.String())
	d.click("record", `a[href^="/boats/LARK/record?"]`, "#note")
	d.click("not done", `main [name="job1"]`, "#note")
	d.types(map[string]string{"amount0": "77.00"})
	d.click("save", `main form button[type=submit]`, `a[href*="/take-back?day="]`)
	d.within(3, "record with changes")
	paid := false
	for _, r := range s.facts("LARK").Records {
		paid = paid || r.Day == s.today() && r.Amount == 7700
	}
	if !paid {
		t.Error("no record of $77.00")
	}

	// A follow-up by itself.
	d.from("/")
	d.find("heron", "#history")
	d.click("record", `a[href$="/record"]`, "#note")
	d.click("a finding", `details:has(#finding) > summary`, "#finding")
	d.types(map[string]string{"finding": "Shaft seal weeps", "finding-service": "impeller", "finding-part": "HERON-E1"})
	d.click("save", `main form button[type=submit]`, ".note.done")
	d.within(4, "follow-up alone")
	if n := len(s.facts("HERON").FollowUps); n != 1 {
		t.Errorf("%d follow-ups, want one", n)
	}

	d.from("/")
	d.click("call list", `nav a[href="/calls"]`, ".log")
	d.click("call note", `.do a[href*="/call"]`, "#note")
	d.pressesTwice(`button[value="no-answer"]`, ".note.done")
	d.within(3, "call that nobody takes")
	if all, err := s.app.DB.CallsTo(t.Context(), "W2", 5); err != nil || len(all) != 1 || all[0].Outcome != store.CallNoAnswer {
		t.Errorf("calls %+v, %v, want one", all, err)
	}

	// Everybody is away: what is planned will be late.
	for _, w := range s.app.Config.Weeks.Technicians {
		if _, err := s.app.AddAbsence(t.Context(), s.now, "Inge", store.Absence{Technician: w.Name, From: s.today(), To: s.today() + 40}); err != nil {
			t.Fatal(err)
		}
	}
	d.from("/")
	d.click("see which", `main a[href="/late"]`, ".alarm")
	d.within(1, "who will be late")
	d.reads("will miss")

	again := schedule.Customer{ID: "C77", Name: "Jørstad, Maren", Email: "maren@example.com", ContactBy: "email"}
	if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", again); err != nil {
		t.Fatal(err)
	}
	d.from("/")
	d.click("more", `nav summary`, `nav a[href="/duplicates"]`)
	d.click("possible duplicates", `nav a[href="/duplicates"]`, `button[value="merge"]`)
	d.pressesTwice(`button[value="merge"]`, `.note.done, [role=alert]`)
	d.within(3, "merge duplicates")
	d.from("/duplicates")
	d.click("take it back", `button[value="unmerge"]`, `button[value="merge"]`)
	d.within(2, "take a merge back")
}

// visitOf is a boat's first planned visit of a kind.
func (s *testShop) visitOf(boat, kind string) schedule.Visit {
	s.t.Helper()
	for _, v := range s.plan(boat).Visits {
		if v.Kind == kind {
			return v
		}
	}
	s.t.Fatalf("boat %s has no %s", boat, kind)
	return schedule.Visit{}
}

func (s *testShop) hasVisit(boat, id string) bool {
	for _, v := range s.plan(boat).Visits {
		if v.ID == id {
			return true
		}
	}
	return false
}
