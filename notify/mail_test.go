package notify_test

import (
	"bytes"
	"encoding/json"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
)

// mailCases makes one notice of every step, through the policy itself.
func mailCases(t testing.TB) map[string]notify.Notice {
	t.Helper()
	cfg := notify.DefaultPolicy(mailZone(t))
	heron := mailBoat("B1", "Heron", mailLayUp("B1"))
	told := func(s schedule.Step, on string) schedule.Heard {
		return schedule.Heard{CustomerID: "C1", Subject: "B1.lay-up.2026", Step: s, On: mailDay(on), Week: mailDay("2026-10-05").Week()}
	}
	one := func(r schedule.Recipient, at string) notify.Notice {
		t.Helper()
		now := mailAt(t, at)
		ns := notify.Decide(r, cfg, now)
		for _, days := range []int{1, 2} { // a moved day is another day of the week
			if testkit.Years() != 0 && len(ns) == 0 {
				ns = notify.Decide(r, cfg, now.AddDate(0, 0, days))
			}
		}
		if len(ns) != 1 {
			t.Fatalf("at %s: %d notices, want one", at, len(ns))
		}
		return ns[0]
	}
	cases := map[string]notify.Notice{}

	cases["invitation"] = one(mailRecipient(heron), "2026-08-25 10:00")

	r := mailRecipient(heron)
	r.Heard = []schedule.Heard{told(schedule.StepInvitation, "2026-08-25")}
	cases["nudge"] = one(r, "2026-09-15 10:00")

	moved := mailLayUp("B1")
	moved.Visit.Week++
	r.Boats = []schedule.BoatView{mailBoat("B1", "Heron", moved)}
	cases["last-call"] = one(r, "2026-10-05 10:00")

	r.Boats = []schedule.BoatView{heron}
	cases["overdue"] = one(r, "2026-10-20 10:00")

	booked := mailLayUp("B1")
	booked.Visit.Booking = &schedule.Booking{VisitID: booked.Visit.ID, BoatID: "B1", Kind: schedule.LayUp, Day: mailDay("2026-10-06"), Minute: 540}
	r = mailRecipient(mailBoat("B1", "Heron", booked))
	cases["confirmation"] = one(r, "2026-09-16 22:15")

	r.Heard = []schedule.Heard{{CustomerID: "C1", Subject: testkit.Text("B1.lay-up.2026@2026-10-06T09:00#1"), Step: schedule.StepConfirmation, On: mailDay("2026-09-16")}}
	cases["booked"] = one(r, "2026-10-02 10:00")

	later := mailLayUp("B1")
	later.Visit.Booking = &schedule.Booking{VisitID: later.Visit.ID, BoatID: "B1", Kind: schedule.LayUp, Day: mailDay("2026-10-08"), Minute: -1}
	r.Boats = []schedule.BoatView{mailBoat("B1", "Heron", later)}
	cases["moved"] = one(r, "2026-10-02 10:00")

	r.Boats = []schedule.BoatView{heron}
	r.NoReminders = true
	cases["cancellation"] = one(r, "2026-10-02 10:00")

	r.Boats, r.NoReminders = []schedule.BoatView{mailBoat("B1", "Heron", booked)}, false
	passed, ok := notify.PassedOn(r, "B1", mailDay("2026-10-01"), cfg, mailAt(t, "2026-10-02 10:00"))
	if !ok {
		t.Fatal("no mail to the earlier owner")
	}
	cases["passed-on"] = passed

	fitOut := mailLayUp("B2")
	fitOut.Title, fitOut.Visit.ID, fitOut.Visit.Kind = "Spring fit-out", "B2.fit-out.2026", schedule.FitOut
	r = mailRecipient(heron, mailBoat("B2", "Wren & Sons <3", fitOut))
	cases["several"] = one(r, "2026-09-15 10:00")

	cases["hours"] = one(mailRecipient(mailVagueBoat()), "2026-06-20 10:00")
	cases["warranty"] = one(mailRecipient(mailWarrantyBoat()), "2026-09-01 10:00")

	n, ok := notify.Welcome(mailRecipient(heron), "B1", cfg, mailAt(t, "2026-05-02 16:00"))
	if !ok {
		t.Fatal("no welcome")
	}
	cases["welcome"] = n
	done := []notify.DoneWork{{Title: "Spring fit-out", Note: "12 May 2026 at 201.5 h"}, {Title: "Water pump impeller"}}
	if n, ok = notify.Summary(mailRecipient(heron), "B1", "B1.fit-out.2026", done, cfg, mailAt(t, "2026-05-12 16:00")); !ok {
		t.Fatal("no summary")
	}
	cases["summary"] = n
	return cases
}

// mailVagueBoat has an oil change due by hours that nobody can date well.
func mailVagueBoat() schedule.BoatView {
	b := mailBoat("B1", "Heron")
	b.Loose = []schedule.Line{{
		Item:  schedule.DueItem{BoatID: "B1", ComponentID: "E1", Rule: "engine-oil", Due: mailDay("2026-08-20"), HoursMedian: mailDay("2026-09-05"), HoursLate: mailDay("2026-10-20"), Basis: schedule.BasisHours, HoursAt: 3000},
		Title: "Engine oil and filter", Why: "Every 12 months or 100 h, whichever first: the meter is likely to reach 300 h about 5 September 2026 (an estimate).",
	}}
	return b
}

// mailWarrantyBoat has a visit that carries the check before the warranty of
// 25 September ends, and that is far from any other step.
func mailWarrantyBoat() schedule.BoatView {
	v := mailLayUp("B1")
	v.Title, v.Visit.ID, v.Visit.Kind = "Service visit", "B1.extra.0badcafe", schedule.Extra
	v.Visit.Week, v.Visit.Day = mailDay("2026-11-02").Week(), mailDay("2026-11-03")
	v.Visit.Deadline, v.Visit.Close = mailDay("2026-12-24"), mailDay("2026-12-24")
	v.Lines[0].Item.Basis, v.Lines[0].Item.ByDate = schedule.BasisExpiry, mailDay("2026-09-25")
	v.Lines[0].Title, v.Lines[0].Why = "Look before the engine warranty ends", "The engine warranty from the sale ends on 25 September 2026; the check comes before that day."
	b := mailBoat("B1", "Heron", v)
	b.Boat.WarrantyUntil = mailDay("2026-09-25")
	return b
}

// mailBodies takes a letter apart with the standard library.
func mailBodies(t testing.TB, raw []byte) (h mail.Header, text, page string) {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	_, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	parts := multipart.NewReader(m.Body, params["boundary"])
	var bodies []string
	for {
		p, err := parts.NextRawPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(quotedprintable.NewReader(p))
		if err != nil {
			t.Fatal(err)
		}
		bodies = append(bodies, string(b))
	}
	if len(bodies) != 2 {
		t.Fatalf("%d parts, want text and HTML", len(bodies))
	}
	return m.Header, bodies[0], bodies[1]
}

func TestLettersOfEveryStep(t *testing.T) {
	r := mailRenderer(t, nil)
	for name, n := range mailCases(t) {
		t.Run(name, func(t *testing.T) {
			l, err := r.Letter(&n, mailLinks)
			if err != nil {
				t.Fatal(err)
			}
			again, err := r.Letter(&n, mailLinks)
			if err != nil || !bytes.Equal(l.Raw, again.Raw) {
				t.Errorf("rendered twice, the bytes differ (%v)", err)
			}
			_, text, page := mailBodies(t, l.Raw)
			mailGolden(t, name+".eml", l.Raw)
			mailGolden(t, name+".txt", []byte(strings.ReplaceAll(text, "\r\n", "\n")))
			mailGolden(t, name+".html", []byte(strings.ReplaceAll(page, "\r\n", "\n")))
			checkLetterLines(t, l.Raw)
			checkSameContent(t, text, page)
			checkSafePage(t, page)
			for _, must := range []string{"Kettle Cove Boats, 4 Slip Road, Kettle Cove, ME 00000", mailLinks.Stop, mailLinks.My, "maker's manual"} {
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
			if n.Data == "a" && a.Key == "href" {
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
	for _, must := range []string{"color-scheme", "prefers-color-scheme: dark", "max-width: 480px", `style="`, `lang="en"`} {
		if !strings.Contains(page, must) {
			t.Errorf("the page lacks %s", must)
		}
	}
}

func TestLetterHeaders(t *testing.T) {
	cases := mailCases(t)
	r := mailRenderer(t, nil)
	for name, n := range cases {
		l, err := r.Letter(&n, mailLinks)
		if err != nil {
			t.Fatal(err)
		}
		h, _, _ := mailBodies(t, l.Raw)
		want := map[string]string{
			"Auto-Submitted": "auto-generated", "X-Auto-Response-Suppress": "All", "Reply-To": "<desk@kettlecove.example>",
			"Message-Id": "<" + l.MessageID + ">", "User-Agent": "", "X-Mailer": "", "Precedence": "",
			"List-Unsubscribe":      "<" + mailLinks.Stop + ">, <mailto:" + mailLinks.StopMail + "?subject=stop>",
			"List-Unsubscribe-Post": "List-Unsubscribe=One-Click", "List-Id": "<reminders.kettlecove.example>",
			"Date": n.At.Format("Mon, 02 Jan 2006 15:04:05 -0700"),
		}
		switch name {
		case "confirmation", "moved", "booked", "cancellation", "passed-on":
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
		if to, err := h.AddressList("To"); err != nil || to[0].Name != mailCustomer().Name || to[0].Address != l.To {
			t.Errorf("%s: To is %v (%v)", name, to, err)
		}
	}
}

func TestSubjectsSayTheThing(t *testing.T) {
	want := map[string]string{
		"invitation":   "Heron: winter lay-up in the week of 5 October",
		"nudge":        "Heron: winter lay-up in the week of 5 October, does that suit you?",
		"last-call":    "Heron: winter lay-up due by 10 October, no day fixed yet",
		"overdue":      "Heron: winter lay-up was due by 10 October",
		"confirmation": "Heron: winter lay-up booked for Tuesday, 6 October at 9:00",
		"moved":        "Heron: winter lay-up moved to Thursday, 8 October",
		"booked":       "Heron: winter lay-up on Tuesday, 6 October at 9:00",
		"cancellation": "Heron: winter lay-up on Tuesday, 6 October at 9:00 is cancelled",
		"passed-on":    "Heron: your booked visit, now that the boat is no longer yours",
		"several":      "Heron and Wren & Sons <3: 2 visits to plan",
		"hours":        "Heron: what does the hour meter read?",
		"warranty":     "Heron: a look before the engine warranty ends on 25 September",
		"welcome":      "Heron: what comes when",
		"summary":      "Heron: what we did and what comes next",
	}
	r := mailRenderer(t, nil)
	for name, n := range mailCases(t) {
		l, err := r.Letter(&n, mailLinks)
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
	r := mailRenderer(t, nil)
	for name, n := range mailCases(t) {
		l, err := r.Letter(&n, mailLinks)
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
		_, text, page := mailBodies(t, l.Raw)
		unix := func(s string) string { return strings.ReplaceAll(s, "\r\n", "\n") }
		if len(got.Defects) > 0 || got.Subject != l.Subject || got.ToName != n.Customer.Name || got.To != l.To ||
			got.From != l.From || got.MessageID != "<"+l.MessageID+">" || got.Text != unix(text) || got.HTML != unix(page) {
			t.Errorf("%s: Python reads it differently: %+v", name, got)
		}
	}
}

func TestPreviewShowsWhatGoesOut(t *testing.T) {
	n := mailCases(t)["nudge"]
	p := mailRenderer(t, nil).Preview(&n, mailLinks)
	for _, must := range []string{"To: Åsa Brännström-O’Dell <asa@mail.example>", "Subject: Heron: winter lay-up", "Useful until: Fri 2 Oct 2026 23:59", "about $310, an estimate"} {
		if !strings.Contains(p, must) {
			t.Errorf("the preview lacks %q:\n%s", must, p)
		}
	}
}

func TestRendererRefuses(t *testing.T) {
	texts, err := notify.English()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := notify.NewRenderer(notify.ShopInfo{From: "nobody"}, texts, nil); err == nil || !strings.Contains(err.Error(), "postal address") || !strings.Contains(err.Error(), `"nobody"`) {
		t.Errorf("a shop without anything: %v", err)
	}
	n := mailCases(t)["invitation"]
	if _, err := mailRenderer(t, nil).Letter(&n, notify.Links{My: mailLinks.My}); err == nil {
		t.Error("a reminder without a way to stop was rendered")
	}
	n.Customer.Email = `"a b"@mail.example`
	if _, err := mailRenderer(t, nil).Letter(&n, mailLinks); err == nil {
		t.Error("a quoted address was taken")
	}
}

func TestPlainHTTPHasNoOneClick(t *testing.T) {
	n := mailCases(t)["invitation"]
	links := mailLinks
	links.Stop, links.StopMail = "http://127.0.0.1:8410/stop/x", ""
	l, err := mailRenderer(t, nil).Letter(&n, links)
	if err != nil {
		t.Fatal(err)
	}
	h, _, _ := mailBodies(t, l.Raw)
	if h.Get("List-Unsubscribe") != "<http://127.0.0.1:8410/stop/x>" || h.Get("List-Unsubscribe-Post") != "" {
		t.Errorf("List-Unsubscribe %q, -Post %q", h.Get("List-Unsubscribe"), h.Get("List-Unsubscribe-Post"))
	}
}

func TestNastyNames(t *testing.T) {
	r := mailRenderer(t, nil)
	for _, name := range []string{"Bcc: x@y.example\r\nBcc: z@y.example", "\x00\x01", strings.Repeat("Öresund ", 60), `"quoted" <a@b.example>`, "日本語の船", "=?utf-8?q?x?="} {
		n := mailCases(t)["invitation"]
		n.Customer.Name = name
		n.Visits[0].Boat.Name = name
		l, err := r.Letter(&n, mailLinks)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		h, _, _ := mailBodies(t, l.Raw)
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
