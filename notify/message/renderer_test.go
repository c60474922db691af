package message_test

import (
	"bytes"
	"encoding/json"
	"mime"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/message"
	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
)

func TestLettersOfEveryStep(t *testing.T) {
	r := fixture.Renderer(t, nil)
	for name, n := range fixture.Cases(t) {
		t.Run(name, func(t *testing.T) {
			l, err := r.Message(&n, fixture.Links)
			if err != nil {
				t.Fatal(err)
			}
			again, err := r.Message(&n, fixture.Links)
			if err != nil || !bytes.Equal(l.Raw, again.Raw) {
				t.Errorf("rendered twice, the bytes differ (%v)", err)
			}
			_, text, page := fixture.Bodies(t, l.Raw)
			if got, err := message.PlainText(l.Raw); err != nil || got != strings.ReplaceAll(text, "\r\n", "\n") {
				t.Errorf("read back as %q (%v)", got, err)
			}
			golden(t, name+".eml", l.Raw)
			golden(t, name+".txt", []byte(strings.ReplaceAll(text, "\r\n", "\n")))
			golden(t, name+".html", []byte(strings.ReplaceAll(page, "\r\n", "\n")))
			checkLetterLines(t, l.Raw)
			checkSameContent(t, text, page)
			checkSafePage(t, page)
			for _, must := range []string{"Ternwick Boats, 4 Slip Road, Ternwick, XX 00000", fixture.Links.Stop, fixture.Links.My, "maker's manual"} {
				if name == "new-address-old" && strings.HasPrefix(must, "https:") {
					continue // who reads it is not known: it opens nothing
				}
				if !strings.Contains(oneSpace(text), must) {
					t.Errorf("the text lacks %q", must)
				}
			}
			if strings.ContainsAny(text+l.Subject, "{}") {
				t.Errorf("a word in braces was not filled in:\n%s\n%s", l.Subject, text)
			}
		})
	}
}

// TestReport: what the shop writes to itself has the same form, header and checks
// as what it writes to customers, without the headers of a mailing.
func TestReport(t *testing.T) {
	line := func(text, label, page string) message.Sentence {
		return message.Sentence{Text: text, Link: message.Hyperlink{Label: label, URL: "https://kettlecove.example/owner/list/" + page}}
	}
	x := message.Report{
		Key: "owner-2026-09", Step: "owner-letter", To: "owner@kettlecove.example", Title: "Ternwick Boats: September 2026",
		Sections: []message.Section{
			{Lines: []message.Sentence{
				line("In September 2026 repeat service on boats that we sold brought $4,310 (a year before: $3,905); other work brought $980.", "Paid work in September 2026", "work?month=2026-09&sold=yes"),
				line("The visits of the next twelve months should bring about $21,400. This is an estimate.", "Visits expected", "expected"),
			}},
			{Title: "For you to do", Lines: []message.Sentence{line("Call 4 customers, first Åsa <Brännström>.", "Lapsed boats", "away")}},
		},
		More: message.Hyperlink{Label: "What each figure means", URL: "https://kettlecove.example/owner/words"},
		At:   fixture.At(t, "2026-10-01 08:00"), NotAfter: fixture.At(t, "2026-10-21 08:00"),
	}
	r := fixture.Renderer(t, nil)
	l, err := r.Report(&x)
	if err != nil {
		t.Fatal(err)
	}
	again, err := r.Report(&x)
	if err != nil || !bytes.Equal(l.Raw, again.Raw) {
		t.Errorf("rendered twice, the bytes differ (%v)", err)
	}
	h, text, page := fixture.Bodies(t, l.Raw)
	golden(t, "report.eml", l.Raw)
	golden(t, "report.txt", []byte(strings.ReplaceAll(text, "\r\n", "\n")))
	golden(t, "report.html", []byte(strings.ReplaceAll(page, "\r\n", "\n")))
	checkLetterLines(t, l.Raw)
	checkSameContent(t, text, page)
	checkSafePage(t, page)
	for name, want := range map[string]string{
		"To": "<owner@kettlecove.example>", "Reply-To": "<desk@kettlecove.example>", "Auto-Submitted": "auto-generated",
		"List-Id": "", "List-Unsubscribe": "", "Message-Id": "<" + l.MessageID + ">",
	} {
		if got := h.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if l.Key != x.Key || l.To != x.To || l.Step != x.Step || !l.NotAfter.Equal(x.NotAfter) || l.CustomerID != "" {
		t.Errorf("queued as %+v", l)
	}
	x.To = "owner"
	if _, err := r.Report(&x); err == nil || !strings.Contains(err.Error(), "owner") {
		t.Errorf("an address that is none: %v", err)
	}
}

func oneSpace(s string) string { return strings.Join(strings.Fields(s), " ") }

// checkLetterLines holds the letter to RFC 5322 2.1.1 and to CRLF.
func checkLetterLines(t *testing.T, raw []byte) {
	t.Helper()
	head, _, _ := bytes.Cut(raw, []byte("\r\n\r\n"))
	for i, line := range strings.Split(string(raw), "\r\n") {
		if strings.ContainsAny(line, "\r\n") || len(line) > 998 {
			t.Errorf("line %d: a bare line end, or too long: %q", i+1, line)
		}
		if i < bytes.Count(head, []byte("\r\n"))+1 && len(line) > 78 {
			t.Errorf("header line %d has %d characters: %q", i+1, len(line), line)
		}
		for _, c := range []byte(line) {
			if c > 126 {
				t.Fatalf("line %d is not ASCII: %q", i+1, line)
			}
		}
	}
}

// checkSameContent asks that text and HTML have the same words and links.
func checkSameContent(t *testing.T, text, page string) {
	t.Helper()
	words := map[string]int{}
	for _, w := range wordPattern.FindAllString(text, -1) {
		words[w]++
	}
	for _, w := range wordPattern.FindAllString(pageText(t, page), -1) {
		words[w]--
	}
	for w, n := range words {
		if n != 0 {
			t.Errorf("%q stands %+d times more in the text than in the HTML", w, n)
		}
	}
}

var wordPattern = regexp.MustCompile(`[\pL\pN]+`)

// pageText is what a reader sees of a page, and the addresses of its links.
func pageText(t *testing.T, page string) string {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && n.Data == "head" {
			return
		}
		if n.Type == html.TextNode {
			b.WriteString(n.Data + " ")
		}
		for _, a := range n.Attr {
			if n.Data == "a" && a.Key == "href" && !strings.HasPrefix(a.Val, "tel:") { // the number is its text
				b.WriteString(a.Val + " ")
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return b.String()
}

// checkSafePage asks that a page loads nothing, tracks nobody and keeps the
// styles that dark mode and phones need.
func checkSafePage(t *testing.T, page string) {
	t.Helper()
	for _, never := range []string{"<img", "<script", "<link", "url(", "@import", "<iframe", "pr-el-id", "ZgotmplZ"} {
		if strings.Contains(page, never) {
			t.Errorf("the page has %s", never)
		}
	}
	for _, must := range []string{"color-scheme", "prefers-color-scheme: dark", "max-width: 480px", `style="`, `lang="`} {
		if !strings.Contains(page, must) {
			t.Errorf("the page lacks %s", must)
		}
	}
}

// TestFirstWinterizationReminderCautionsOfCarbonMonoxide, which gathers under covers and
// shrink wrap, whatever the cautions of the jobs are.
func TestFirstWinterizationReminderCautionsOfCarbonMonoxide(t *testing.T) {
	for _, name := range []string{"invitation", "first-late", "summary-winterized"} {
		_, text := written(t, fixture.Shop(t), nil, name)
		text = strings.Join(strings.Fields(text), " ")
		if !strings.Contains(text, "under a cover or shrink wrap: carbon monoxide has no smell and kills.") || strings.Count(text, "carbon monoxide")+strings.Count(text, "Carbon monoxide") != 1 {
			t.Errorf("%s: %s", name, text)
		}
	}
}

func TestLetterHeaders(t *testing.T) {
	cases := fixture.Cases(t)
	r := fixture.Renderer(t, nil)
	for name, n := range cases {
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		h, _, _ := fixture.Bodies(t, l.Raw)
		want := map[string]string{
			"Auto-Submitted": "auto-generated", "X-Auto-Response-Suppress": "All", "Reply-To": "<desk@kettlecove.example>",
			"Message-Id": "<" + l.MessageID + ">", "User-Agent": "", "X-Mailer": "", "Precedence": "",
			"List-Unsubscribe":      "<" + fixture.Links.Stop + ">, <mailto:" + fixture.Links.StopMail + "?subject=stop>",
			"List-Unsubscribe-Post": "List-Unsubscribe=One-Click", "List-Id": "<reminders.kettlecove.example>",
			"Date": n.At.Format("Mon, 02 Jan 2006 15:04:05 -0700"),
		}
		switch n.Step {
		case schedule.StepConfirmation, schedule.StepBooked, schedule.StepCancellation, schedule.StepPassedOn, schedule.StepNewLink, schedule.StepNewAddress:
			want["List-Unsubscribe"], want["List-Unsubscribe-Post"], want["List-Id"] = "", "", ""
		}
		for field, value := range want {
			if got := h.Get(field); got != value {
				t.Errorf("%s: %s is %q, want %q", name, field, got, value)
			}
		}
		subject, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject"))
		if err != nil || subject != l.Subject {
			t.Errorf("%s: subject header %q, letter says %q (%v)", name, subject, l.Subject, err)
		}
		if to, err := h.AddressList("To"); err != nil || to[0].Name != fixture.Customer().Name || to[0].Address != l.To {
			t.Errorf("%s: To is %v (%v)", name, to, err)
		}
	}
}

func TestSubjectsSayTheThing(t *testing.T) {
	want := map[string]string{
		"invitation":         "Heron: winterization in the week of Oct 5",
		"first-again":        "Heron: winterization in the week of Oct 5",
		"first-late":         "Heron: winterization was due by Oct 10",
		"nudge":              "Heron: winterization in the week of Oct 5, does that suit you?",
		"last-call":          "Heron: winterization due by Oct 10, not booked yet",
		"overdue":            "Heron: winterization was due by Oct 10",
		"confirmation":       "Heron: winterization booked for Tue, Oct 6, 9:00 AM",
		"confirmation-three": "Heron, Wren & Sons <3 and Tern: booked for Tue, Oct 6",
		"moved":              "Heron: winterization moved to Thu, Oct 8",
		"moved-you":          "Heron: winterization moved to Thu, Oct 8",
		"moved-us":           "Heron: we had to move your visit to Thu, Oct 8",
		"hour-set":           "Heron: winterization is on Tue, Oct 6, 2:00 PM",
		"booked":             "Heron: winterization on Tue, Oct 6, 9:00 AM",
		"cancellation":       "Heron: winterization on Tue, Oct 6, 9:00 AM is canceled",
		"cancellation-you":   "Heron: winterization on Tue, Oct 6, 9:00 AM is canceled",
		"cancellation-us":    "Heron: winterization on Tue, Oct 6, 9:00 AM is canceled",
		"new-address":        "Heron: winterization on Tue, Oct 6, 9:00 AM, at your new email address",
		"new-address-old":    "An appointment is in another calendar now",
		"declined":           "Heron: winterization on Tue, Oct 6, 9:00 AM is canceled",
		"passed-on":          "Heron: your booked visit, now that the boat is no longer yours",
		"passed-on-sister":   "Heron: your booked visit with us is canceled",
		"several":            "Heron and Wren & Sons <3: 2 visits to plan",
		"three":              "Heron, Wren & Sons <3 and Tern: 3 visits to plan",
		"asked":              "Heron: winterization, you asked us to write again",
		"hours":              "Heron: what does the hour meter read?",
		"warranty":           "Heron: a check before the engine warranty ends on Sep 25",
		"freeze":             "Heron: hard freeze in the night to Sat, Oct 10, not winterized",
		"welcome":            "Heron: what comes when",
		"new-link":           "Your new link to your boat's page",
		"summary":            "Heron: what we did and what comes next",
		"page":               "Heron and Wren & Sons <3: your page, and what comes when",
		"correction":         "Heron: a correction",
		"summary-winterized": "Heron: what we did and what comes next",
	}
	r := fixture.Renderer(t, nil)
	for name, n := range fixture.Cases(t) {
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		if l.Subject != want[name] {
			t.Errorf("%s: subject %q, want %q", name, l.Subject, want[name])
		}
	}
}

// TestLettersInPython has Python's email package read every letter with its
// strict policy.
func TestLettersInPython(t *testing.T) {
	const python = "/usr/bin/python3"
	_, err := os.Stat(python)
	testkit.Needs(t, err == nil, python)
	r := fixture.Renderer(t, nil)
	for name, n := range fixture.Cases(t) {
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(python, "testdata/mail/parse_mail.py")
		cmd.Stdin = bytes.NewReader(l.Raw)
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		var got struct {
			Subject, ToName, To, From, MessageID, Text, HTML string
			Defects                                          []string
		}
		if err := json.Unmarshal(out, &got); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		_, text, page := fixture.Bodies(t, l.Raw)
		unix := func(s string) string { return strings.ReplaceAll(s, "\r\n", "\n") }
		if len(got.Defects) > 0 || got.Subject != l.Subject || got.ToName != n.Customer.Name || got.To != l.To ||
			got.From != l.From || got.MessageID != "<"+l.MessageID+">" || got.Text != unix(text) || got.HTML != unix(page) {
			t.Errorf("%s: Python reads it differently: %+v", name, got)
		}
	}
}

func TestPreviewShowsWhatGoesOut(t *testing.T) {
	n := fixture.Cases(t)["nudge"]
	p := fixture.Renderer(t, nil).Preview(&n, fixture.Links)
	for _, must := range []string{"To: Åsa Brännström-O’Dell <asa@mail.example>", "Subject: Heron: winterization", "Useful until: Fri, Oct 2, 2026, 11:59 PM", "Winterization, about $310"} {
		if !strings.Contains(p, must) {
			t.Errorf("the preview lacks %q:\n%s", must, p)
		}
	}
}

func TestRendererRefuses(t *testing.T) {
	if _, err := message.NewRenderer(message.Shop{From: "nobody"}, nil, nil); err == nil || !strings.Contains(err.Error(), "postal address") || !strings.Contains(err.Error(), `"nobody"`) {
		t.Errorf("a shop without anything: %v", err)
	}
	n := fixture.Cases(t)["invitation"]
	if _, err := fixture.Renderer(t, nil).Message(&n, message.Links{My: fixture.Links.My}); err == nil {
		t.Error("a reminder without a way to stop was rendered")
	}
	n.Customer.Email = `"a b"@mail.example`
	if _, err := fixture.Renderer(t, nil).Message(&n, fixture.Links); err == nil {
		t.Error("a quoted address was taken")
	}
}

func TestPlainHTTPHasNoOneClick(t *testing.T) {
	n := fixture.Cases(t)["invitation"]
	links := fixture.Links
	links.Stop, links.StopMail = "http://127.0.0.1:8410/stop/x", ""
	l, err := fixture.Renderer(t, nil).Message(&n, links)
	if err != nil {
		t.Fatal(err)
	}
	h, _, _ := fixture.Bodies(t, l.Raw)
	if h.Get("List-Unsubscribe") != "<http://127.0.0.1:8410/stop/x>" || h.Get("List-Unsubscribe-Post") != "" {
		t.Errorf("List-Unsubscribe %q, -Post %q", h.Get("List-Unsubscribe"), h.Get("List-Unsubscribe-Post"))
	}
}

func TestNastyNames(t *testing.T) {
	r := fixture.Renderer(t, nil)
	for _, name := range []string{"Bcc: x@y.example\r\nBcc: z@y.example", "\x00\x01", strings.Repeat("Öresund ", 60), `"quoted" <a@b.example>`, "日本語の船", "=?utf-8?q?x?="} {
		n := fixture.Cases(t)["invitation"]
		n.Customer.Name = name
		n.Visits[0].Boat.Name = name
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		h, _, _ := fixture.Bodies(t, l.Raw)
		if h.Get("Bcc") != "" {
			t.Errorf("%q became a header", name)
		}
		for i, line := range strings.Split(string(l.Raw), "\r\n") {
			if len(line) > 998 || strings.ContainsAny(line, "\r\n\x00") {
				t.Errorf("%q: line %d is %q", name, i+1, line)
			}
		}
	}
}
