package main

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

// TestEveryFeedSaysWhatThePlanSays serves the invented shop of 400 boats and
// has three foreign parsers read the calendar of every boat, of every customer
// and of the desk. All three must see the same, and the same as the plan says:
// the visits with their titles, days and reasons, and the days that are the
// owner's own business.
func TestEveryFeedSaysWhatThePlanSays(t *testing.T) {
	if testing.Short() {
		t.Skip("has three parsers read every calendar of a shop")
	}
	today := testkit.Day(2027, 4, 6)
	s := inventedShop(t, demoSettings("127.0.0.1:8410", "127.0.0.1:1", false), 400, today)
	h := s.open(t)
	booked := bookSome(t, s, h)
	files := fetchFeeds(t, s, h)
	checkLines(t, files)

	names := slices.Sorted(maps.Keys(files))
	var seen map[string][]seenEvent
	for _, p := range parsers {
		t.Run(p.name, func(t *testing.T) {
			got := parseAll(t, p.command(t), names)
			if seen == nil {
				seen = got
				return
			}
			for _, name := range names {
				if !slices.Equal(got[name], seen[name]) {
					t.Errorf("%s is read in two ways:\n%+v\n%+v", name, got[name], seen[name])
				}
			}
		})
	}
	testkit.Needs(t, seen != nil, "any foreign parser of calendars")
	c := feedCheck{seen: seen, files: files, today: today, booked: booked}
	c.boats(t, h)
	c.customers(t, s)
	c.desk(t)
	if c.events < 1000 || c.customerEvents < 1000 || c.shortened*2 > c.events {
		t.Errorf("%d events of boats and %d of customers seen, %d with fewer jobs than they have", c.events, c.customerEvents, c.shortened)
	}
	t.Logf("%d feeds, %d events of boats; %d notes with fewer jobs than they have; the desk's feed has %d", len(names), c.events, c.shortened, len(c.of("desk")))
}

// bookSome books visits of three boats, one of them at an hour, and returns
// their starts as the calendars must show them.
func bookSome(t *testing.T, s *testShop, h *app.App) map[string]string {
	t.Helper()
	booked := map[string]string{}
	for i, at := range []string{"09:30", "", "16:00"} {
		boat := fmt.Sprintf("B%05d", 11+i)
		visit := doJSON[planJSON](t, s, "plan", boat).Visits[0].ID
		day := testkit.Day(2027, 4, 20)
		args := []string{"book", boat, visit, day.String()}
		booked[visit] = compact(day)
		if at != "" {
			args = append(args, "--at", at)
			booked[visit] = compact(day) + map[string]string{"09:30": "T133000Z", "16:00": "T200000Z"}[at] // four hours behind UTC in April
		}
		s.do(t, args...)
	}
	return booked
}

// fetchFeeds gets every feed from the daemon and puts each into a file, named
// by what it is of: boat-B00001, customer-C00001, desk. It returns the bytes by
// file.
func fetchFeeds(t *testing.T, s *testShop, h *app.App) map[string][]byte {
	t.Helper()
	d, dir, files := s.serve(t), t.TempDir(), map[string][]byte{}
	fetch := func(scope link.Scope, subject string) {
		address, err := h.FeedURL(t.Context(), scope, subject)
		if err != nil {
			t.Fatal(err)
		}
		resp, body := d.get(t, http.MethodGet, d.at(t, address))
		if resp.StatusCode != http.StatusOK || resp.Header.Get("Content-Type") != "text/calendar; charset=utf-8" {
			t.Fatalf("feed of %s %s: status %d\n%s", scope, subject, resp.StatusCode, body)
		}
		file := filepath.Join(dir, strings.TrimSuffix(string(scope)+"-"+subject, "-"))
		if err := os.WriteFile(file, []byte(body), 0o600); err != nil {
			t.Fatal(err)
		}
		files[file] = []byte(body)
	}
	boats, err := h.DB.Boats(t.Context(), "", 1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range boats {
		fetch(link.ScopeBoat, b.ID)
	}
	customers, err := h.DB.Customers(t.Context(), "", 1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range customers {
		fetch(link.ScopeCustomer, c.ID)
	}
	fetch(link.ScopeDesk, "")
	d.stop(t)
	return files
}

// checkLines holds the bytes to RFC 5545 3.1: lines of at most 75 octets that
// end in CRLF.
func checkLines(t *testing.T, files map[string][]byte) {
	t.Helper()
	for name, body := range files {
		for line := range strings.Lines(string(body)) {
			text, ok := strings.CutSuffix(line, "\r\n")
			if !ok || len(text) > 75 || strings.ContainsAny(text, "\r\n") {
				t.Errorf("%s: line %q", name, line)
			}
		}
	}
}

// feedCheck compares what the parsers saw with what the plan says.
type feedCheck struct {
	seen   map[string][]seenEvent
	files  map[string][]byte
	today  civil.Day
	booked map[string]string

	events, customerEvents, shortened int
}

// of returns the events of a feed, without the placeholder of an empty one.
func (c *feedCheck) of(name string) []seenEvent {
	for file, events := range c.seen {
		if filepath.Base(file) == name {
			return slices.DeleteFunc(slices.Clone(events), func(e seenEvent) bool { return e.Start == "19700101" })
		}
	}
	return nil
}

// wantEvent is what the plan says of an event; the parts are what its note must
// hold.
type wantEvent struct {
	summary, start, end, status string
	titles, reasons             []string
}

func (c *feedCheck) boats(t *testing.T, h *app.App) {
	t.Helper()
	from, to, _ := feed.Window(c.today)
	err := h.DB.EachFacts(t.Context(), nil, func(f *schedule.Facts) (err error) {
		if f.Boat.Gone != 0 && f.Boat.Gone <= c.today {
			return nil
		}
		if f.Place, err = h.Place(t.Context(), f.Boat.Place); err != nil {
			return err
		}
		plan := h.Planner.Plan(f, c.today)
		v := h.Planner.View(f, &plan)
		got := c.of("boat-" + v.Boat.ID)
		v = v.ForOwner()
		want := c.planned(planAsJSON(&v, &schedule.BoatPlan{}, c.today))
		want = slices.DeleteFunc(want, func(w wantEvent) bool {
			return w.start[:8] < compact(from) || w.start[:8] > compact(to)
		})
		slices.SortFunc(got, func(a, b seenEvent) int {
			return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Summary, b.Summary))
		})
		slices.SortFunc(want, func(a, b wantEvent) int {
			return cmp.Or(cmp.Compare(a.start, b.start), cmp.Compare(a.summary, b.summary))
		})
		if len(got) != len(want) {
			t.Errorf("boat %s: %d events, want %d:\n%+v\n%+v", v.Boat.ID, len(got), len(want), got, want)
			return nil
		}
		for i := range got {
			c.compare(t, v.Boat.ID, &got[i], &want[i])
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// planned are the events that a plan, as the plan command prints it, asks for:
// one for each visit over the days that it may take, and one for each day that
// no visit takes care of.
func (c *feedCheck) planned(p planJSON) []wantEvent {
	var want []wantEvent
	for _, v := range p.Visits {
		w := wantEvent{summary: v.Title + " — " + p.Boat + " (not booked)", status: "TENTATIVE", reasons: []string{v.Why}}
		first, after := v.Day, v.Day+1
		if v.Week != 0 {
			first, after = v.Week.Monday(), v.Week.Sunday()+1
		}
		w.start, w.end = compact(first), compact(after)
		if start, ok := c.booked[v.ID]; ok {
			w.status, w.start, w.end = "CONFIRMED", start, compact(v.Booked+1)
			w.summary = v.Title + " — " + p.Boat
			if len(start) > 8 {
				w.end = strings.NewReplacer("T1330", "T1400", "T2000", "T2030").Replace(start) // half an hour to bring it in
			}
		}
		for _, it := range v.Items {
			w.titles = append(w.titles, it.Title)
		}
		want = append(want, w)
	}
	for _, it := range p.Items {
		if it.Visit == "" && (it.ByCustomer || it.Basis == string(schedule.BasisExpiry)) {
			w := wantEvent{summary: "Due: " + it.Title + " — " + p.Boat, start: compact(it.Due), end: compact(it.Due + 1), status: "CONFIRMED", reasons: []string{it.Why}}
			if it.Basis == string(schedule.BasisHours) {
				w.status = "TENTATIVE"
			}
			want = append(want, w)
		}
	}
	return want
}

// moreJobs is what a note says in place of the jobs that it has no room for.
var moreJobs = regexp.MustCompile(`; and \d+ more\.`)

// compact is a day as calendars write it.
func compact(d civil.Day) string { return strings.ReplaceAll(d.String(), "-", "") }

func (c *feedCheck) compare(t *testing.T, boat string, got *seenEvent, want *wantEvent) {
	t.Helper()
	c.events++
	if got.Summary != want.summary || got.Start != want.start || got.End != want.end || got.Status != want.status {
		t.Errorf("boat %s: %+v\nwant %+v", boat, got, want)
	}
	missing := func(parts []string) bool {
		return slices.ContainsFunc(parts, func(p string) bool { return !strings.Contains(got.Description, p) })
	}
	switch {
	case missing(want.reasons):
		t.Errorf("boat %s, %s: a reason is missing in %q\nwant %q", boat, got.Summary, got.Description, want.reasons)
	case utf8.RuneCountInString(got.Description) > 660:
		t.Errorf("boat %s, %s: a note of %d characters", boat, got.Summary, utf8.RuneCountInString(got.Description))
	case missing(want.titles) && !moreJobs.MatchString(got.Description):
		t.Errorf("boat %s, %s: a job is missing in %q\nwant %q", boat, got.Summary, got.Description, want.titles)
	case missing(want.titles):
		c.shortened++
	}
}
