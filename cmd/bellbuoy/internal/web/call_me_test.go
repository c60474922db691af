package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// asks has a customer press "please call me" on their page.
func (s *testShop) asks(customer string, form url.Values) {
	s.t.Helper()
	form.Set("kind", "call")
	to := s.post(s.my(customer)+"/answer", form).code(http.StatusSeeOther).to()
	s.get(to).code(http.StatusOK).says("You are on our call list.")
}

// TestPleaseCallMeIsCalled: whoever asks is first on the call list in the same
// second, however they wish to be told, with a visit or without, with a number
// or without, with a boat or without; and stays there until a call note settles
// it.
func TestPleaseCallMeIsCalled(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	change := func(f func(*schedule.Customer)) func(*testing.T, *testShop) {
		return func(t *testing.T, s *testShop) {
			c, err := s.app.DB.Customer(t.Context(), "W1")
			if err != nil {
				t.Fatal(err)
			}
			f(&c)
			if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", c); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, c := range []struct {
		name  string
		first func(*testing.T, *testShop)
		form  url.Values
	}{
		{"by email", nil, url.Values{}},
		{"about a visit", nil, url.Values{"visit": {"PERCH.fit-out.2027"}}},
		{"by phone", change(func(c *schedule.Customer) { c.ContactBy = "phone" }), url.Values{}},
		{"wants no reminders", change(func(c *schedule.Customer) { c.ContactBy = "none" }), url.Values{}},
		{"without a number", change(func(c *schedule.Customer) { c.Phone = "" }), url.Values{"number": {"296-555-0199"}}},
		{"without an email", change(func(c *schedule.Customer) { c.Email = "" }), url.Values{}},
		{"everything booked", func(t *testing.T, s *testShop) { bookedInMay(s) }, url.Values{}},
		{"called about something else yesterday", func(t *testing.T, s *testShop) {
			call := store.Call{Actor: "desk", CustomerID: "W1", BoatID: "PERCH", Outcome: store.CallThinks}
			if err := storetest.Writer(t, s.app.DB).LogCall(t.Context(), s.now.AddDate(0, 0, -1), call); err != nil {
				t.Fatal(err)
			}
		}, url.Values{}},
		{"without a boat", func(t *testing.T, s *testShop) {
			if err := storetest.SetOwner(t.Context(), storetest.Writer(t, s.app.DB), s.now, "desk", "PERCH", "", s.today()); err != nil {
				t.Fatal(err)
			}
		}, url.Values{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			if c.first != nil {
				c.first(t, s)
			}
			s.now = civil.Of(2027, 5, 4).At(11, 0, s.app.Config.Zone()) // Piotr is on the list for his visit
			s.on(s.today())
			c.form.Set("note", "after six")
			s.asks("W1", c.form)
			cookie := s.hire("Inge", "desk")
			list := s.as(cookie, "GET", "/calls", nil).code(http.StatusOK).says("Maren Jørstad", "after six”", "Piotr Dunmarrow")
			if text := list.text(); strings.Index(text, "Maren") > strings.Index(text, "Piotr") || strings.Count(text, "after six”") != 1 {
				t.Errorf("Maren is not first, and once: %s", text)
			}
			s.now = s.now.AddDate(0, 0, 40)
			cookie = s.hire("Ruth", "desk")
			s.as(cookie, "GET", "/replies", nil).says("Replies 1", "to do", "Maren Jørstad", "after six”")
			list = s.as(cookie, "GET", "/calls", nil).says("after six”")

			link := linkTo(t, list, "Call note", "Maren")
			s.as(cookie, "GET", link, nil).code(http.StatusOK).says("Maren Jørstad", "after six", "Discussed")
			path, _, _ := strings.Cut(link, "?")
			// Nobody at home: tried again tomorrow, and still to do.
			s.as(cookie, "POST", path, url.Values{"outcome": {store.CallNoAnswer}}).code(http.StatusSeeOther)
			s.as(cookie, "GET", "/calls", nil).silent("after six”").says("1 more rests")
			s.as(cookie, "GET", "/replies", nil).says("Replies 1")
			s.now = s.now.AddDate(0, 0, 1)
			cookie = s.hire("Inge", "desk")
			s.as(cookie, "GET", "/calls", nil).says("after six”", "no answer")
			s.as(cookie, "POST", path, url.Values{"outcome": {store.CallMessage}}).code(http.StatusSeeOther)
			s.as(cookie, "GET", "/replies", nil).says("Replies 1")
			s.as(cookie, "POST", path, url.Values{"outcome": {store.CallSettled}, "note": {"all clear"}}).code(http.StatusSeeOther)
			s.as(cookie, "GET", "/calls", nil).silent("after six”")
			s.as(cookie, "GET", "/replies", nil).silent("Replies 1", "to do", "after six")
			s.get(s.my("W1")).silent("asked us to call")
		})
	}
}

// linkTo finds the address of a link by its words and whom it is about.
func linkTo(t *testing.T, a answered, words, who string) string {
	t.Helper()
	for part := range strings.SplitSeq(a.Body.String(), "<a ") {
		text, _, _ := strings.Cut(part, "</a>")
		_, link, ok := strings.Cut(text, `href="`)
		if ok && strings.Contains(text, words) && strings.Contains(text, who) {
			link, _, _ = strings.Cut(link, `"`)
			return strings.ReplaceAll(link, "&amp;", "&")
		}
	}
	t.Fatalf("no link %q about %s: %s", words, who, a.text())
	return ""
}

// TestNobodyCallingIsNotSilence: a customer who waits for a call is not mailed
// about it at first; but a call that nobody makes does not end the mail.
func TestNobodyCallingIsNotSilence(t *testing.T) {
	mailed := func(s *testShop, days int) bool {
		r, err := s.app.Recipient(t.Context(), "W1")
		if err != nil {
			t.Fatal(err)
		}
		for day := range days {
			for _, n := range notify.Decide(r, s.app.Policy(), s.now.AddDate(0, 0, day)) {
				if len(n.Visits) > 0 {
					return true
				}
			}
		}
		return false
	}
	s := newTestShop(t)
	s.on(civil.Of(2027, 4, 14)) // the spring work's last days
	if !mailed(s, 1) {
		t.Fatal("there is nothing to be reminded of")
	}
	s.asks("W1", url.Values{"visit": {"PERCH.fit-out.2027"}})
	if mailed(s, 7) {
		t.Error("mailed while waiting for the call")
	}
	if !mailed(s, 9) {
		t.Error("nobody called, and nobody writes")
	}
	if err := storetest.Writer(t, s.app.DB).LogCall(t.Context(), s.now, store.Call{Actor: "desk", CustomerID: "W1", Outcome: store.CallNoAnswer}); err != nil {
		t.Fatal(err)
	}
	if !mailed(s, 2) { // nobody is reminded on the day of their own reply
		t.Error("the mail still waits though somebody tried to call")
	}
}

// TestALaterReplyKeepsTheCall: what a customer says about the visit after asking
// for a call is no call.
func TestALaterReplyKeepsTheCall(t *testing.T) {
	s := newTestShop(t)
	visit := "PERCH.fit-out.2027"
	s.asks("W1", url.Values{"visit": {visit}, "note": {"after six"}})
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"decline"}, "visit": {visit}}).code(http.StatusSeeOther)
	s.as(s.hire("Inge", "desk"), "GET", "/calls", nil).says("after six”")
	if err := storetest.SetOwner(t.Context(), storetest.Writer(t, s.app.DB), s.now, "desk", "PERCH", "W3", s.today()); err != nil {
		t.Fatal(err)
	}
	s.as(s.hire("Ruth", "desk"), "GET", "/calls", nil).says("after six”")
}

// TestOldToDosStayOnTheReplies: word of a sale is not forgotten after two weeks.
func TestOldToDosStayOnTheReplies(t *testing.T) {
	s := newTestShop(t)
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"sold"}, "boat": {"PERCH"}}).code(http.StatusSeeOther)
	s.now = s.now.AddDate(0, 0, 30)
	s.post(s.my("W3")+"/answer", url.Values{"kind": {"mails"}, "mails": {"booked"}}).code(http.StatusSeeOther)
	text := s.as(s.hire("Inge", "desk"), "GET", "/replies", nil).says("Replies 1", "no longer has the boat", "stopped reminders").text()
	if strings.Index(text, "no longer has the boat") > strings.Index(text, "stopped reminders") {
		t.Error("what is to do does not come first")
	}
}

// TestTheMenuCountsWhoWaitsForACall: whoever asked on the page and was not tried
// since, once, for the desk.
func TestTheMenuCountsWhoWaitsForACall(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	s.as(desk, "GET", "/", nil).silent("asked for a call")
	for range 2 {
		s.post(s.my("W2")+"/answer", url.Values{"kind": {"call"}, "note": {"After five"}}).code(http.StatusSeeOther)
	}
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"call"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/", nil).says("Call list 2 asked for a call")
	s.as(s.hire("Ruth", "technician"), "GET", "/", nil).silent("asked for a call")
	s.now = s.now.Add(time.Hour)
	s.as(desk, "POST", "/customers/W2/call", url.Values{"outcome": {store.CallNoAnswer}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/", nil).says("Call list 1 asked for a call")
}
