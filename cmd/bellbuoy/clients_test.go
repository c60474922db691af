package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/testkit"
)

// calendarClient is somebody's calendar on a desk: vdirsyncer subscribes over
// HTTP, khal shows what came.
type calendarClient struct {
	dir string
}

// subscribe has the client subscribe to an address.
func subscribe(t *testing.T, address string) *calendarClient {
	t.Helper()
	for _, name := range []string{"vdirsyncer", "khal"} {
		_, err := exec.LookPath(name)
		testkit.Needs(t, err == nil, name)
	}
	c := &calendarClient{dir: t.TempDir()}
	for _, d := range []string{"calendar", "status"} {
		if err := os.Mkdir(filepath.Join(c.dir, d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	fill := strings.NewReplacer("DIR", c.dir, "URL", address)
	for name, text := range map[string]string{"sync.conf": syncConf, "khal.conf": khalConf} {
		if err := os.WriteFile(filepath.Join(c.dir, name), []byte(fill.Replace(text)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c.run(t, "vdirsyncer", "-c", filepath.Join(c.dir, "sync.conf"), "discover")
	return c
}

const syncConf = `[general]
status_path = "DIR/status/"
[pair boat]
a = "here"
b = "shop"
collections = null
conflict_resolution = "b wins"
[storage here]
type = "filesystem"
path = "DIR/calendar/"
fileext = ".ics"
[storage shop]
type = "http"
url = "URL"
`

const khalConf = `[calendars]
[[boat]]
path = DIR/calendar/
readonly = True
[locale]
local_timezone = America/New_York
default_timezone = America/New_York
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
[sqlite]
path = DIR/khal.db
`

func (c *calendarClient) run(t *testing.T, name string, args ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Env = append(os.Environ(), "HOME="+c.dir)
	cmd.Stdin = strings.NewReader("y\ny\n")
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// shows fetches the calendar again and returns what the client shows of two
// years, a line an event, in order.
func (c *calendarClient) shows(t *testing.T) []string {
	t.Helper()
	c.run(t, "vdirsyncer", "-c", filepath.Join(c.dir, "sync.conf"), "sync")
	out := c.run(t, "khal", "-c", filepath.Join(c.dir, "khal.conf"), "list", "--once", "--day-format", "",
		"--format", "{start-long} to {end-long}: {title} {status}", testkit.Text("2027-04-01"), "700d")
	var lines []string
	for line := range strings.SplitSeq(out, "\n") {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	slices.Sort(lines)
	return lines
}

// calendarProgram shows what it has of a subscribed calendar, a line an event,
// in order.
type calendarProgram interface{ shows(t *testing.T) []string }

// until asks again until the client shows what is wanted: the daemon may
// believe for a second that nothing has changed.
func until(t *testing.T, c calendarProgram, step string, want []string) {
	t.Helper()
	tick := time.NewTicker(300 * time.Millisecond)
	defer tick.Stop()
	slices.Sort(want)
	got := c.shows(t)
	for end := time.Now().Add(patience); !slices.Equal(got, want) && time.Now().Before(end); got = c.shows(t) {
		<-tick.C
	}
	if !slices.Equal(got, want) {
		t.Errorf("%s: the client shows\n%s\nwant\n%s", step, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// planned is what a client should show of a boat: its visits as the plan has
// them, and a booked one as it was booked.
func planned(t *testing.T, s *testShop, boat, booked, as string) []string {
	t.Helper()
	var want []string
	for _, v := range doJSON[planJSON](t, s, "plan", boat).Visits {
		when := fmt.Sprintf("%s to %s: %s — Perch Pressure (not booked) TENTATIVE", v.Week.Monday(), v.Week.Monday()+6, v.Title)
		switch {
		case v.ID == booked:
			when = as + ": " + v.Title + " — Perch Pressure CONFIRMED"
		case v.Week == 0:
			when = fmt.Sprintf("%s to %s: %s — Perch Pressure (not booked) TENTATIVE", v.Day, v.Day, v.Title)
		}
		want = append(want, when)
	}
	return want
}

// TestACalendarClientFollowsThePlan has two real clients subscribe to a boat's
// calendar and look again after each change: what they show is what the plan
// says.
func TestACalendarClientFollowsThePlan(t *testing.T) {
	if testing.Short() {
		t.Skip("starts calendar programs")
	}
	t.Run("vdirsyncer and khal", func(t *testing.T) {
		followsThePlan(t, func(address string) calendarProgram { return subscribe(t, address) })
	})
	t.Run("the Evolution data server", func(t *testing.T) {
		followsThePlan(t, func(address string) calendarProgram { return subscribeEvolution(t, address) })
	})
}

func followsThePlan(t *testing.T, subscribe func(address string) calendarProgram) {
	s := newShop(t, lindrake(t, ""))
	s.today = testkit.Text("2027-04-01")
	s.do(t, "import", testkit.Folder(t, filepath.Join(testdata, "worked")))
	d := s.serve(t)
	client := subscribe(d.at(t, s.do(t, "feed", "PERCH")))
	visit := doJSON[planJSON](t, s, "plan", "PERCH").Visits[0].ID

	until(t, client, "subscribed", planned(t, s, "PERCH", "", ""))
	s.do(t, "book", "PERCH", visit, testkit.Text("2027-04-20"), "--at", "09:30")
	until(t, client, "booked", planned(t, s, "PERCH", visit, testkit.Text("2027-04-20 09:30 to 2027-04-20 10:00")))
	s.do(t, "book", "PERCH", visit, testkit.Text("2027-04-22"))
	until(t, client, "moved to another day", planned(t, s, "PERCH", visit, testkit.Text("2027-04-22 to 2027-04-22")))
	s.do(t, "book", "PERCH", visit, "--off")
	until(t, client, "called off", planned(t, s, "PERCH", "", ""))
	plan, err := s.open(t).DB.Plan(t.Context(), "PERCH")
	if err != nil {
		t.Fatal(err)
	}
	for _, job := range plan.Items {
		if job.VisitID == visit {
			s.do(t, "record", "PERCH", job.Service, "--component", job.ComponentID)
		}
	}
	after := planned(t, s, "PERCH", "", "")
	if strings.Contains(strings.Join(after, "\n"), testkit.Text("2027-04")) {
		t.Fatalf("after the work the plan still has\n%s", strings.Join(after, "\n"))
	}
	until(t, client, "done", after)
	d.stop(t)
}
