package feed_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/feed"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

// update rewrites the golden files of this package.
var update = flag.Bool("update", false, "write the golden files instead of comparing with them")

var feedChanged = testkit.Day(2027, 4, 12).At(9, 30, time.UTC)

// feedPlain is a span of days that is in order.
func feedPlain() feed.Event {
	return feed.Event{
		UID: "one", Summary: "Winterization — Heron",
		Start: civil.Of(2027, 10, 4), End: civil.Of(2027, 10, 11), Tentative: true,
	}
}

// feedRender renders or fails.
func feedRender(t testing.TB, e feed.Event) []byte {
	t.Helper()
	block, err := e.Render(3, feedChanged)
	if err != nil {
		t.Fatal(err)
	}
	return block
}

// feedLines writes an event or fails.
func feedLines(t testing.TB, e feed.Event) feed.Lines {
	t.Helper()
	lines, err := e.Lines()
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// feedProps reads a rendered event's lines by name.
func feedProps(t testing.TB, block []byte) map[string]string {
	t.Helper()
	lines, err := feed.Unfold(block)
	if err != nil {
		t.Fatal(err)
	}
	props := make(map[string]string)
	for _, l := range lines {
		if l[1] != "" {
			l[0] += ";" + l[1]
		}
		props[l[0]] = l[2]
	}
	return props
}

func TestRenderWritesTextsAsRFC5545Does(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		// The example of RFC 5545 3.3.11.
		{"line breaks", "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.", `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`},
		// The escapes of the same section, which gives no example of them.
		{"comma, semicolon, backslash", `oil, filter; C:\boats`, `oil\, filter\; C:\\boats`},
		{"colons and quotes stay", `at 9:30 "sharp"`, `at 9:30 "sharp"`},
		{"a form's CRLF", "one\r\ntwo\rthree", `one\ntwo\nthree`},
		{"separators of Unicode", "one\u2028two\u0085three", `one\ntwo\nthree`},
		{"control characters go, tabs stay", "a\x00b\x0bc\x7fd\u009be\tf", "abcde\tf"},
		{"broken UTF-8", "caf\xe9 \xf0\x9f", "caf\uFFFD \uFFFD"},
		{"what looks like an escape", `not a \n break`, `not a \\n break`},
		{"what looks like a line of a calendar", "x\r\nEND:VEVENT", `x\nEND:VEVENT`},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := feedPlain()
			e.Description = c.text
			if got := feedProps(t, feedRender(t, e))["DESCRIPTION"]; got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestRenderTimes(t *testing.T) {
	newYork, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	for _, c := range []struct {
		name   string
		change func(*feed.Event)
		want   map[string]string
	}{
		{"a penciled week ends on the Monday after", func(*feed.Event) {}, map[string]string{
			"DTSTART;VALUE=DATE": "20271004", "DTEND;VALUE=DATE": "20271011", "STATUS": "TENTATIVE",
			"TRANSP": "TRANSPARENT", "X-MICROSOFT-CDO-BUSYSTATUS": "FREE",
			"DTSTAMP": "20270412T093000Z", "LAST-MODIFIED": "20270412T093000Z", "SEQUENCE": "3",
		}},
		{"a booked day leaves its reader free", func(e *feed.Event) { e.Tentative, e.End = false, e.Start+1 }, map[string]string{
			"DTSTART;VALUE=DATE": "20271004", "DTEND;VALUE=DATE": "20271005", "STATUS": "CONFIRMED", "TRANSP": "TRANSPARENT",
		}},
		{"a booked day that takes its reader's time", func(e *feed.Event) { e.Tentative, e.Busy, e.End = false, true, e.Start+1 }, map[string]string{
			"DTSTART;VALUE=DATE": "20271004", "DTEND;VALUE=DATE": "20271005", "STATUS": "CONFIRMED", "TRANSP": "OPAQUE", "X-MICROSOFT-CDO-BUSYSTATUS": "",
		}},
		{"an appointment is in UTC and busy", func(e *feed.Event) {
			e.Busy = true
			e.Tentative, e.At, e.Duration = false, time.Date(2027, 10, 4, 9, 0, 0, 0, newYork), 30*time.Minute
		}, map[string]string{
			"DTSTART": "20271004T130000Z", "DTEND": "20271004T133000Z", "STATUS": "CONFIRMED", "TRANSP": "OPAQUE",
			"X-MICROSOFT-CDO-BUSYSTATUS": "",
		}},
		{"no alarm unless asked for", func(*feed.Event) {}, map[string]string{"TRIGGER": ""}},
		{"a week before", func(e *feed.Event) { e.Alarm = 7 * 24 * time.Hour }, map[string]string{"TRIGGER": "-P7D", "ACTION": "DISPLAY"}},
		{"ninety minutes before", func(e *feed.Event) { e.Alarm = 90 * time.Minute }, map[string]string{"TRIGGER": "-PT90M"}},
		{"categories", func(e *feed.Event) { e.Categories = []string{"a, b", "", "c"} }, map[string]string{"CATEGORIES": `a\, b,c`}},
		{"an address in other letters", func(e *feed.Event) { e.URL = "https://example.com/büro" }, map[string]string{"URL": "https://example.com/b%C3%BCro"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := feedPlain()
			c.change(&e)
			got := feedProps(t, feedRender(t, e))
			for name, want := range c.want {
				if got[name] != want {
					t.Errorf("%s: got %q, want %q", name, got[name], want)
				}
			}
		})
	}
}

func TestRenderRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*feed.Event)
		say    string
	}{
		{"no uid", func(e *feed.Event) { e.UID = "" }, "uid"},
		{"a uid of two lines", func(e *feed.Event) { e.UID = "a\r\nb" }, "uid"},
		{"no summary", func(e *feed.Event) { e.Summary = " \x00\n" }, "no summary"},
		{"no days", func(e *feed.Event) { e.Start, e.End = 0, 1 }, "days"},
		{"an end on the first day", func(e *feed.Event) { e.End = e.Start }, "first day after"},
		{"a year of five digits", func(e *feed.Event) { e.End = civil.Of(12027, 1, 1) }, "days"},
		{"an appointment of no length", func(e *feed.Event) { e.At = feedChanged }, "at least a minute"},
		{"a relative address", func(e *feed.Event) { e.URL = "/my" }, "absolute"},
		{"an address that runs a script", func(e *feed.Event) { e.URL = "javascript://x/%0aalert(1)" }, "absolute"},
		{"an address with a line break", func(e *feed.Event) { e.URL = "https://example.com/\r\nX:y" }, "absolute"},
		{"an alarm after the start", func(e *feed.Event) { e.Alarm = -time.Hour }, "alarm"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := feedPlain()
			c.change(&e)
			if block, err := e.Render(0, feedChanged); err == nil || !strings.Contains(err.Error(), c.say) {
				t.Errorf("got %q, %v; want an error with %q", block, err, c.say)
			}
		})
	}
	e := feedPlain()
	if _, err := e.Render(-1, feedChanged); err == nil {
		t.Error("a negative sequence is rendered")
	}
}

// The hash must follow everything that a client would see and nothing else.
func TestHash(t *testing.T) {
	base := feedPlain()
	base.Description = "Same."
	for _, c := range []struct {
		name   string
		same   bool
		change func(*feed.Event)
	}{
		{"nothing", true, func(*feed.Event) {}},
		{"what is cleaned away", true, func(e *feed.Event) { e.Description = "Same.\r\n" }},
		{"summary", false, func(e *feed.Event) { e.Summary += "!" }},
		{"description", false, func(e *feed.Event) { e.Description += "!" }},
		{"location", false, func(e *feed.Event) { e.Location = "1 Harbor Road" }},
		{"address", false, func(e *feed.Event) { e.URL = "https://example.com/" }},
		{"start", false, func(e *feed.Event) { e.Start++ }},
		{"end", false, func(e *feed.Event) { e.End++ }},
		{"status", false, func(e *feed.Event) { e.Tentative = false }},
		{"category", false, func(e *feed.Event) { e.Categories = []string{"x"} }},
		{"alarm", false, func(e *feed.Event) { e.Alarm = time.Hour }},
		{"uid", false, func(e *feed.Event) { e.UID = "two" }},
		{"day to hour", false, func(e *feed.Event) { e.At, e.Duration = feedChanged, time.Hour }},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := base
			c.change(&e)
			if same := feedLines(t, e).Hash() == feedLines(t, base).Hash(); same != c.same {
				t.Errorf("same hash: %v, want %v", same, c.same)
			}
		})
	}
}

func TestCalendar(t *testing.T) {
	head := feed.Head{Name: "Heron, service", Description: "What is due; and why", Page: "https://service.example.com/my", Source: "https://service.example.com/cal/abc.ics"}
	cal, err := feed.Calendar(head, [][]byte{feedRender(t, feedPlain())})
	if err != nil {
		t.Fatal(err)
	}
	got := feedProps(t, cal.Body)
	for name, want := range map[string]string{
		"VERSION": "2.0", "CALSCALE": "GREGORIAN", "NAME": `Heron\, service`, "X-WR-CALNAME": `Heron\, service`,
		"X-WR-CALDESC": `What is due\; and why`, "URL": head.Page, "SOURCE;VALUE=URI": head.Source,
		// RFC 7986 5.7: there is no default type, the parameter must be there.
		"REFRESH-INTERVAL;VALUE=DURATION": "PT4H", "X-PUBLISHED-TTL": "PT4H",
	} {
		if got[name] != want {
			t.Errorf("%s: got %q, want %q", name, got[name], want)
		}
	}
	again, err := feed.Calendar(head, [][]byte{feedRender(t, feedPlain())})
	if err != nil || !bytes.Equal(again.Body, cal.Body) {
		t.Errorf("the same facts give other bytes: %v", err)
	}
	if _, err := feed.Calendar(feed.Head{Page: "my/page"}, nil); err == nil {
		t.Error("a relative page address is taken")
	}
	two := [][]byte{feedRender(t, feedPlain()), feedRender(t, feedPlain())}
	if _, err := feed.Calendar(head, two); err == nil || !strings.Contains(err.Error(), "is also that of line") {
		t.Errorf("two events of one uid: %v", err)
	}
	if _, err := feed.Calendar(head, [][]byte{two[0][:len(two[0])-2]}); err == nil {
		t.Error("half an event is served")
	}
}

func TestCalendarWithoutEventsHasOneThatSaysSo(t *testing.T) {
	one, err := feed.Calendar(feed.Head{Name: "Heron"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	p := feedProps(t, one.Body)
	if p["SUMMARY"] != "No service is planned" || p["DTSTART;VALUE=DATE"] != "19700101" || one.Cut != 0 {
		t.Errorf("got %v, %d cut", p, one.Cut)
	}
	two, err := feed.Calendar(feed.Head{Name: "Plover"}, nil)
	if err != nil || feedProps(t, two.Body)["UID"] == p["UID"] {
		t.Errorf("two empty feeds share a uid: %v", err)
	}
}

func TestCalendarIsCutWhenFull(t *testing.T) {
	events := func(n, note int) [][]byte {
		out := make([][]byte, n)
		for i := range out {
			e := feedPlain()
			e.UID = feed.UID("example.com", strings.Repeat("i", i+1))
			e.Description = strings.Repeat("long ", note/5)
			out[i] = feedRender(t, e)
		}
		return out
	}
	for _, c := range []struct {
		name      string
		n, note   int
		cut, most int
	}{
		{"as many as go in", 500, 10, 0, 0},
		{"one more", 501, 10, 1, 1},
		{"too many bytes", 120, 5900, 30, 60},
	} {
		t.Run(c.name, func(t *testing.T) {
			cal, err := feed.Calendar(feed.Head{Name: "Desk"}, events(c.n, c.note))
			if err != nil {
				t.Fatal(err)
			}
			if cal.Cut < c.cut || cal.Cut > c.most || len(cal.Body) > feed.MaxBytes {
				t.Errorf("%d cut, %d bytes; want %d to %d cut", cal.Cut, len(cal.Body), c.cut, c.most)
			}
			if n := bytes.Count(cal.Body, []byte("BEGIN:VEVENT")); n != c.n-cal.Cut {
				t.Errorf("%d events and %d cut of %d", n, cal.Cut, c.n)
			}
		})
	}
}

func TestLongTextsAreCutAtAWord(t *testing.T) {
	note := feed.Note(strings.Repeat("ünderwater ", 1000))
	if len(note) > 6000 || !strings.HasSuffix(note, "ünderwater…") {
		t.Errorf("%d bytes, ends in %q", len(note), note[len(note)-20:])
	}
	if line := feed.OneLine(strings.Repeat("帆", 200)); len(line) > 250 || !strings.HasSuffix(line, "帆…") {
		t.Errorf("%d bytes, ends in %q", len(line), line)
	}
	if line := feed.OneLine(" a \r\n b\t c "); line != "a b c" {
		t.Errorf("got %q", line)
	}
}

// feedGolden compares with a golden file, or writes it with -update.
func feedGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; make it with -update", err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; if that is meant, run with -update and read the diff. Got:\n%s", path, got)
	}
}
