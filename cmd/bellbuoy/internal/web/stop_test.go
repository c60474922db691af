package web_test

import (
	"maps"
	"math/rand/v2"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

func (s *testShop) mails(customer string) store.MailChoice {
	s.t.Helper()
	m, err := s.app.DB.MailChoice(s.t.Context(), customer)
	if err != nil {
		s.t.Fatal(err)
	}
	return m
}

func TestOneClickStopsReminders(t *testing.T) {
	s := newTestShop(t)
	// What mail programs send (RFC 8058, 3.2 and the example of 8.1), from
	// nowhere in particular: no cookie, no origin, perhaps another site's.
	for _, headers := range [][]string{nil, {"Sec-Fetch-Site", "cross-site", "Origin", "https://mail.example"}, {"Origin", "null"}} {
		a := s.send(http.MethodPost, s.stopPath("W1"), url.Values{"List-Unsubscribe": {"One-Click"}}, headers...).code(http.StatusOK)
		if a.to() != "" || a.Header().Get("Set-Cookie") != "" {
			t.Errorf("headers %q: the answer leads on or leaves a cookie: %v", headers, a.Header())
		}
		if got, want := s.mails("W1"), (store.MailChoice{NoReminders: true}); got != want {
			t.Errorf("headers %q: mails %+v, want %+v", headers, got, want)
		}
	}
	before := s.fingerprint()
	s.send(http.MethodPost, s.stopPath("W1"), url.Values{"List-Unsubscribe": {"One-Click"}}).code(http.StatusOK)
	if s.fingerprint() != before {
		t.Error("the second click changed something")
	}
}

func TestOneClickAsAMultipartForm(t *testing.T) {
	s := newTestShop(t)
	r := "--x\r\nContent-Disposition: form-data; name=\"List-Unsubscribe\"\r\n\r\nOne-Click\r\n--x--\r\n"
	s.sendBody(http.MethodPost, s.stopPath("W1"), "multipart/form-data; boundary=x", r).code(http.StatusOK)
	if !s.mails("W1").NoReminders {
		t.Error("reminders go on")
	}
}

func TestOneClickNeverBringsMailsBack(t *testing.T) {
	s := newTestShop(t)
	s.get(s.post(s.stopPath("W1"), url.Values{"mails": {"none"}}).code(http.StatusSeeOther).to()).says("We do not write to you any more")
	s.post(s.stopPath("W1"), url.Values{"List-Unsubscribe": {"One-Click"}}).code(http.StatusOK)
	if got, want := s.mails("W1"), (store.MailChoice{NoReminders: true, NoMail: true}); got != want {
		t.Errorf("mails %+v, want %+v", got, want)
	}
}

func TestStopPageStopsAndStarts(t *testing.T) {
	s := newTestShop(t)
	stop := s.stopPath("W1")
	before := s.fingerprint()
	s.get(stop).code(http.StatusOK).says("you get reminders", "Stop reminders", "Stop all emails").silent("Send me reminders again")
	if s.fingerprint() != before {
		t.Error("looking changed something")
	}
	s.get(s.post(stop, url.Values{"mails": {"booked"}}).code(http.StatusSeeOther).to()).says("You get no more reminders", "Send me reminders again")
	s.get(stop).says("mail about what you booked, and no reminders")
	s.get(s.post(stop, url.Values{"mails": {"all"}}).code(http.StatusSeeOther).to()).says("You get our mails again")
	if got := s.mails("W1"); got != (store.MailChoice{}) {
		t.Errorf("mails %+v after starting again", got)
	}
	s.post(stop, url.Values{}).code(http.StatusBadRequest)
	s.post("/stop/nonsense", url.Values{"List-Unsubscribe": {"One-Click"}}).code(http.StatusNotFound)
}

// TestLookingChangesNothing follows every address of every mail that a small
// invented shop would send in a year, as a mail scanner does, and wants every
// row of the file to stay as it is.
func TestLookingChangesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	settings, _, _ := strings.Cut(shopSettings, "[[place]]")
	for _, p := range demo.Places() {
		settings += "[[place]]\nname = \"" + p.Name + "\"\nlaunch = \"" + p.Launch.String() + "\"\nwinterize_by = \"" + p.LayUp.String() + "\"\n"
	}
	s := emptyTestShop(t, settings)
	dir := t.TempDir()
	if err := demo.WriteParts(dir, demo.Parts(rand.New(rand.NewPCG(7, 0)), s.today(), 40, 4)); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%d files, error %v", len(files), err)
	}
	for i := range files {
		files[i] = filepath.Base(files[i])
	}
	s.intake(dir, files...)
	links := s.linksOfMails(365)
	if len(links) < 100 {
		t.Fatalf("only %d addresses in all mails", len(links))
	}
	before := s.fingerprint()
	kinds := make(map[string]int)
	for path := range links {
		for _, method := range []string{http.MethodGet, http.MethodHead} {
			a := s.send(method, path, nil).code(http.StatusOK)
			if a.Header().Get("Set-Cookie") != "" {
				t.Errorf("%s leaves a cookie", path)
			}
		}
		kinds[strings.Split(path, "/")[1]]++
	}
	if s.fingerprint() != before {
		t.Error("looking changed something")
	}
	if kinds["my"] == 0 || kinds["stop"] == 0 || kinds["cal"] == 0 {
		t.Errorf("addresses followed: %v, want of every kind", kinds)
	}
	t.Logf("followed %v", kinds)
}

// linksOfMails renders every mail of so many days and returns the paths in
// them, and those of the feeds and visits that their pages name.
func (s *testShop) linksOfMails(days int) map[string]bool {
	s.t.Helper()
	rehearsed, err := s.app.Rehearse(s.t.Context(), s.today(), s.today()+civil.Day(days))
	if err != nil {
		s.t.Fatal(err)
	}
	links := make(map[string]bool)
	address := regexp.MustCompile(regexp.QuoteMeta(s.app.Config.Shop.URL) + `(/[a-z0-9/._%@-]*[a-z0-9])`)
	for _, day := range rehearsed {
		for i := range day.Notices {
			l, err := s.app.Message(s.t.Context(), &day.Notices[i])
			if err != nil {
				s.t.Fatal(err)
			}
			raw := strings.NewReplacer("=\r\n", "", "\r\n ", "").Replace(string(l.Raw))
			for _, m := range address.FindAllStringSubmatch(raw, -1) {
				links[m[1]] = true
			}
		}
	}
	// The customer's page leads to the one about the calendar, and that to its feed.
	found := slices.Collect(maps.Keys(links))
	for len(found) > 0 {
		path := found[0]
		found = found[1:]
		if !strings.HasPrefix(path, "/my/") || strings.Count(path, "/") > 3 {
			continue
		}
		for _, m := range regexp.MustCompile(`href="(?:webcal://[^/]*)?(/(?:my|cal)/[^"]*)"`).FindAllStringSubmatch(s.get(path).Body.String(), -1) {
			if !links[m[1]] {
				links[m[1]], found = true, append(found, m[1])
			}
		}
	}
	return links
}
