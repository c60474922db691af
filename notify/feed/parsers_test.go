package feed_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/feed"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

// feedSeen is an event as an outside parser read it; see testdata/parse_*.
type feedSeen struct {
	UID         string `json:"uid"`
	Summary     string `json:"summary"`
	Description string `json:"description"`
	Location    string `json:"location"`
	Status      string `json:"status"`
	Start       string `json:"start"`
	End         string `json:"end"`
	LastMod     string `json:"lastmod"`
	Sequence    int    `json:"sequence"`
}

// feedNasty are texts that calendars were seen to break on.
var feedNasty = []struct{ name, text string }{
	{"commas and semicolons", "oil, filter; plugs,; ,"},
	{"backslashes", `C:\boats\new \n \\ \, end\`},
	{"umlauts and dashes", "Überwinterung — für die Möwe, „früh“"},
	{"other scripts", "冬支度。帆船のエンジン — зимнее хранение — تخزين"},
	{"emoji of many parts", "⛵ \U0001F6A4 \U0001F468\U0001F3FD\u200D\U0001F527 \U0001F1FA\U0001F1F8"},
	{"combining marks", strings.Repeat("e\u0301a\u0308", 60)},
	{"a long word", strings.Repeat("Wintereinlagerung", 12)},
	{"long, all escapes", strings.Repeat(`,;\`, 60)},
	{"long, escapes at each offset", strings.Repeat("ab;é,", 40)},
	{"spaces at each fold", strings.Repeat("a    ", 40) + "b"},
	{"quotes, colons, carets, percent", `"9:30" ^n ^^ %0A key=value`},
	{"markup", "<b>now</b> & <a href=\"https://example.com\">here</a>"},
	{"a line of a calendar", "x END:VEVENT BEGIN:VALARM"},
}

// feedNastyEvents makes two events of each nasty text, a span and an
// appointment, and what a right reader sees of them.
func feedNastyEvents(t testing.TB) (blocks [][]byte, want []feedSeen) {
	t.Helper()
	add := func(e feed.Event, w feedSeen) {
		e.UID = feed.UID("example.com", e.Summary+e.Description+w.Start)
		w.UID, w.LastMod, w.Sequence = e.UID, feedChanged.Format("20060102T150405Z"), 3
		blocks, want = append(blocks, feedRender(t, e)), append(want, w)
	}
	compact := func(d civil.Day) string { return strings.ReplaceAll(d.String(), "-", "") }
	from, to, leap, bare := testkit.Day(2027, 12, 27), testkit.Day(2028, 1, 3), testkit.Day(2028, 2, 29), testkit.Day(2027, 1, 1)
	for _, n := range feedNasty {
		line, note := feed.OneLine(n.text), feed.Note(n.text+"\r\n\r\n"+n.text+"\n- "+n.name)
		if want := n.text + "\n\n" + n.text + "\n- " + n.name; note != want {
			t.Fatalf("%s: cleaned to %q", n.name, note)
		}
		add(feed.Event{
			Summary: n.text, Description: note, Location: n.text, Tentative: true, Categories: []string{n.text},
			Start: from, End: to,
		}, feedSeen{Summary: line, Description: note, Location: line, Status: "TENTATIVE", Start: compact(from), End: compact(to)})
		add(feed.Event{
			Summary: n.text, Description: note, At: leap.At(23, 45, time.UTC), Duration: time.Hour, Alarm: 24 * time.Hour,
			URL: "https://example.com/" + strings.Repeat("long/", 30),
		}, feedSeen{Summary: line, Description: note, Status: "CONFIRMED", Start: compact(leap) + "T234500Z", End: compact(leap+1) + "T004500Z"})
	}
	add(feed.Event{Summary: "bare", Start: bare, End: bare + 1},
		feedSeen{Summary: "bare", Status: "CONFIRMED", Start: compact(bare), End: compact(bare + 1)})
	return blocks, want
}

// feedParser runs one outside parser over a calendar.
type feedParser func(t *testing.T, body []byte) []feedSeen

func feedCommand(name string, args ...string) feedParser {
	return func(t *testing.T, body []byte) []feedSeen {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.Stdin = bytes.NewReader(body)
		var fault bytes.Buffer
		cmd.Stderr = &fault
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s: %v\n%s\nof\n%s", name, err, fault.Bytes(), body)
		}
		var seen []feedSeen
		for dec := json.NewDecoder(bytes.NewReader(out)); dec.More(); {
			var s feedSeen
			if err := dec.Decode(&s); err != nil {
				t.Fatalf("%s: %v in\n%s", name, err, out)
			}
			seen = append(seen, s)
		}
		return seen
	}
}

func feedIcalendar(t *testing.T) feedParser {
	// Debian's module belongs to Debian's Python, not to the first in PATH.
	const python = "/usr/bin/python3"
	testkit.Needs(t, exec.Command(python, "-c", "import icalendar").Run() == nil, "python3-icalendar")
	return feedCommand(python, "testdata/parse_icalendar.py")
}

func feedICALjs(t *testing.T) feedParser {
	npm := os.Getenv("BELLBUOY_NPM")
	_, err := os.Stat(filepath.Join(npm, "node_modules", "ical.js"))
	node, missing := exec.LookPath("node")
	testkit.Needs(t, npm != "" && err == nil && missing == nil, "node, or ical.js in the folder that BELLBUOY_NPM names,")
	return feedCommand(node, "testdata/parse_icaljs.mjs")
}

func feedLibical(t *testing.T) feedParser {
	flags, err := exec.Command("pkg-config", "--cflags", "--libs", "libical").Output()
	testkit.Needs(t, err == nil, "libical-dev or pkg-config")
	program := filepath.Join(t.TempDir(), "parse")
	build := exec.Command("cc", append([]string{"-o", program, "testdata/parse_libical.c"}, strings.Fields(string(flags))...)...)
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	return feedCommand(program)
}

// TestOutsideParsersSeeWhatWeMean has feeds read by three parsers that have
// nothing in common with this program: python3-icalendar, ical.js and libical.
func TestOutsideParsersSeeWhatWeMean(t *testing.T) {
	for _, p := range []struct {
		name string
		get  func(*testing.T) feedParser
	}{{"icalendar", feedIcalendar}, {"ical.js", feedICALjs}, {"libical", feedLibical}} {
		t.Run(p.name, func(t *testing.T) {
			parse := p.get(t)
			blocks, want := feedNastyEvents(t)
			head := feed.Head{Name: `Heron; the "last", \ of her ⛵`, Description: strings.Repeat("What is due, and why. ", 12), Page: "https://example.com/", Source: "https://example.com/cal/x.ics"}
			cal, err := feed.Calendar(head, blocks)
			if err != nil {
				t.Fatal(err)
			}
			seen := parse(t, cal.Body)
			if p.name == "icalendar" {
				feedForgive(seen, want)
			}
			feedCompare(t, seen, want)

			empty, err := feed.Calendar(head, nil)
			if err != nil {
				t.Fatal(err)
			}
			if seen := parse(t, empty.Body); len(seen) != 1 || seen[0].Start != "19700101" || seen[0].End != "19700102" {
				t.Errorf("the feed without events: %+v", seen)
			}
		})
	}
}

func feedCompare(t *testing.T, got, want []feedSeen) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%d events seen, want %d", len(got), len(want))
	}
	for i := range min(len(got), len(want)) {
		if got[i] != want[i] {
			t.Errorf("event %d:\nseen %+v\nwant %+v", i, got[i], want[i])
		}
	}
}

// feedForgive puts what we meant where python3-icalendar 4 read it wrongly in
// the way that it is known to (its parser.py, escape_string and unescape_char):
// it undoes escapes twice and one kind after the other, so that a backslash
// before n, comma, semicolon or another backslash is lost. RFC 5545 3.3.11 is on
// our side; ical.js and libical read these texts as we mean them.
func feedForgive(seen, want []feedSeen) {
	for i := range min(len(seen), len(want)) {
		s, w := &seen[i], want[i]
		for _, f := range []struct {
			got  *string
			want string
		}{{&s.Summary, w.Summary}, {&s.Description, w.Description}, {&s.Location, w.Location}} {
			if *f.got == feedAsIcalendar4(f.want) {
				*f.got = f.want
			}
		}
	}
}

func feedAsIcalendar4(s string) string {
	s = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`).Replace(s)
	for _, step := range [][2]string{
		{`\,`, "%2C"}, {`\:`, "%3A"}, {`\;`, "%3B"}, {`\\`, "%5C"},
		{"%2C", ","}, {"%3A", ":"}, {"%3B", ";"}, {"%5C", `\`},
		{`\N`, `\n`}, {`\n`, "\n"}, {`\,`, ","}, {`\;`, ";"}, {`\\`, `\`},
	} {
		s = strings.ReplaceAll(s, step[0], step[1])
	}
	return s
}
