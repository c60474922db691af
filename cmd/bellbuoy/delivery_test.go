package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
)

// readMail is a mail as Python's email package read it; see
// testdata/outside/read_mail.py.
type readMail struct {
	From    []mailName        `json:"from"`
	To      []mailName        `json:"to"`
	Subject string            `json:"subject"`
	Date    string            `json:"date"`
	Headers map[string]string `json:"headers"` // names in lower case
	Kind    string            `json:"kind"`
	Text    string            `json:"text"`
	HTML    string            `json:"html"`
}

type mailName struct{ Name, Address string }

func readMails(t *testing.T, files []string) []readMail {
	t.Helper()
	python, err := exec.LookPath("python3")
	testkit.Needs(t, err == nil, "python3")
	cmd := exec.Command(python, append([]string{filepath.Join(testdata, "outside", "read_mail.py")}, files...)...)
	var fault bytes.Buffer
	cmd.Stderr = &fault
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("read the mails: %v\n%s", err, fault.Bytes())
	}
	var mails []readMail
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var m readMail
		if err := dec.Decode(&m); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		mails = append(mails, m)
	}
	slices.SortFunc(mails, func(a, b readMail) int { return strings.Compare(a.To[0].Address, b.To[0].Address) })
	return mails
}

// pages is where the customers of this shop find it: https, so that stopping
// takes one click (RFC 8058).
const pages = "https://service.lindrake.example"

// TestMailsThroughPostfix sends the reminders of a spring day through a real
// Postfix and reads them back with Python. What a customer gets must name him
// and his boat, say the same in both parts, and lead to pages that answer.
func TestMailsThroughPostfix(t *testing.T) {
	p := startPostfix(t)
	s := newShop(t, strings.Replace(lindrake(t, (&mailbox{address: p.address}).settings()), "http://127.0.0.1:8410", pages, 1))
	s.today = testkit.Text("2027-04-01")
	s.do(t, "import", testkit.Folder(t, filepath.Join(testdata, "worked")))
	s.do(t, "mail", "on")
	if out := s.do(t, "mail", "send"); !strings.HasPrefix(out, "2 sent, 0 to be tried again, 0 refused, 0 uncertain") {
		t.Fatalf("mail send says %s", out)
	}
	mails := readMails(t, p.delivered(t, 2))
	if len(mails) != 2 {
		t.Fatalf("%d mails, want 2", len(mails))
	}
	d := s.serve(t)
	for i, want := range []struct {
		to          mailName
		boats, jobs []string
	}{
		{mailName{"Maren Jørstad", "maren@example.com"}, []string{"Perch Pressure"}, []string{"Trailer brakes"}},
		{mailName{"Odalys Trần", "odalys@example.org"}, []string{"Blue Hour", "Slow Sunday"}, []string{"Spring commissioning"}},
	} {
		t.Run(want.to.Name, func(t *testing.T) {
			m := &mails[i]
			checkHeaders(t, m, want.to)
			for _, words := range slices.Concat(want.boats, want.jobs, []string{want.to.Name, "Prices are estimates", "Lindrake Cove Boat Works", "4 Slipway Lane"}) {
				if !strings.Contains(m.Text, words) || !strings.Contains(m.HTML, words) {
					t.Errorf("%q is missing in the text or the HTML:\n%s", words, m.Text)
				}
			}
			checkLinks(t, d, m, want.boats)
		})
	}
	d.stop(t)
	if got := letters(t, s); got[schedule.MessageSent] != 2 || len(got) != 1 {
		t.Errorf("letters %v, want two sent: looking at pages and calendars changes nothing", got)
	}
	s.today = testkit.Text("2027-05-10")
	if out := s.do(t, "mail", "preview", "--to", s.today); !holdsAll(out, []string{"final-reminder", "Maren", "Odalys"}) {
		t.Fatalf("the last call is due for both, and the preview says %s", out)
	}
	stopByOneClick(t, s, &mails[0])
	s.do(t, "mail", "send")
	later := readMails(t, p.delivered(t, 3))
	if got := letters(t, s); got[schedule.MessageSent] != 3 || later[1].To[0].Address != "odalys@example.org" {
		t.Errorf("letters %v, want three: Maren asked to stop after her first", got)
	}
}

// stopByOneClick does what a mail program does when its reader wants no more
// mail (RFC 8058): it posts to the address in the header, with no cookie and
// without looking at the page.
func stopByOneClick(t *testing.T, s *testShop, m *readMail) {
	t.Helper()
	today := s.today
	defer func() { s.today = today }()
	sunday := testkit.Day(2027, 5, 9).Week().Sunday() // nothing goes out
	s.today = sunday.String()
	d := s.serve(t)
	link, _, _ := strings.Cut(strings.TrimPrefix(strings.TrimSpace(m.Headers["list-unsubscribe"]), "<"), ">")
	form := strings.NewReader(m.Headers["list-unsubscribe-post"])
	resp, err := http.Post(d.at(t, link), "application/x-www-form-urlencoded", form)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Errorf("stop by one click: status %d", resp.StatusCode)
	}
	d.stop(t)
}

func checkHeaders(t *testing.T, m *readMail, to mailName) {
	t.Helper()
	if len(m.To) != 1 || m.To[0] != to {
		t.Errorf("to %+v, want %+v", m.To, to)
	}
	if want := (mailName{"Lindrake Cove Boat Works", "service@lindrake.example"}); len(m.From) != 1 || m.From[0] != want {
		t.Errorf("from %+v, want %+v", m.From, want)
	}
	if m.Kind != "multipart/alternative" || m.Subject == "" || !strings.HasPrefix(m.Date, testkit.Text("2027-04-01")+"T12:00:") || !strings.HasSuffix(m.Date, "-04:00") {
		t.Errorf("kind %s, subject %q, date %s", m.Kind, m.Subject, m.Date)
	}
	for name, form := range map[string]string{
		"return-path":           `^<service@lindrake\.example>$`,
		"delivered-to":          `^` + regexp.QuoteMeta(to.Address) + `$`,
		"message-id":            `^<[0-9a-f]{16,}@service\.lindrake\.example>$`,
		"auto-submitted":        `^auto-generated$`,
		"list-unsubscribe":      `^<` + pages + `/stop/[a-z2-7]+>`,
		"list-unsubscribe-post": `^List-Unsubscribe=One-Click$`,
		"mime-version":          `^1\.0$`,
	} {
		if !regexp.MustCompile(form).MatchString(strings.TrimSpace(m.Headers[name])) {
			t.Errorf("%s: %q, want %s", name, m.Headers[name], form)
		}
	}
}

var address = regexp.MustCompile(pages + `/[^\s"<>&]*`)

// checkLinks follows every address of a mail, in the text and in the HTML.
func checkLinks(t *testing.T, d *served, m *readMail, boats []string) {
	t.Helper()
	inText, inHTML := address.FindAllString(m.Text, -1), address.FindAllString(m.HTML, -1)
	kinds := map[string]bool{}
	for _, link := range slices.Compact(slices.Sorted(slices.Values(slices.Concat(inText, inHTML)))) {
		if !slices.Contains(inText, link) || !slices.Contains(inHTML, link) {
			t.Errorf("%s is in one part only", link)
		}
		path := strings.TrimPrefix(link, pages)
		kind, _, _ := strings.Cut(path[1:], "/")
		kinds[kind] = true
		resp, body := d.get(t, http.MethodGet, d.base+path)
		if resp.StatusCode != http.StatusOK {
			t.Errorf("%s: status %d\n%s", link, resp.StatusCode, body)
		}
		if kind == "my" && !strings.HasSuffix(path, "/calendar") && !holdsAll(body, boats) {
			t.Errorf("%s does not show %q", link, boats)
		}
	}
	if !kinds["my"] || !kinds["stop"] {
		t.Errorf("the mail has links to %v, want the customer's page and the way to stop:\n%s", kinds, m.Text)
	}
	followCalendar(t, d, inText, boats)
}

// followCalendar goes the customer's way from the mail to the calendar: their page
// leads to the one that explains it and has the address of the feed.
func followCalendar(t *testing.T, d *served, links, boats []string) {
	t.Helper()
	for _, link := range links {
		my, _, _ := strings.Cut(strings.TrimPrefix(link, pages+"/my/"), "/")
		if my == link {
			continue
		}
		_, theirs := d.get(t, http.MethodGet, d.at(t, link))
		if !strings.Contains(theirs, "/my/"+my+"/calendar") {
			continue
		}
		_, page := d.get(t, http.MethodGet, d.at(t, pages+"/my/"+my+"/calendar"))
		feed := regexp.MustCompile(pages + `/cal/[a-z2-7]+\.ics`).FindString(page)
		if feed == "" {
			t.Fatalf("no calendar on the page %s:\n%s", link, page)
		}
		if resp, body := d.get(t, http.MethodGet, d.at(t, feed)); resp.StatusCode != http.StatusOK || !holdsAll(body, boats) {
			t.Errorf("the calendar %s: status %d, and it should show %q", feed, resp.StatusCode, boats)
		}
		return
	}
	t.Errorf("no way to the calendar among %q", links)
}

func holdsAll(text string, words []string) bool {
	return !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) })
}
