package web_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// TestStoppedMailIsSaidOnTheDesksPages: a queue that stands still is no secret
// from the desk, and no business of a technician.
func TestStoppedMailIsSaidOnTheDesksPages(t *testing.T) {
	s := newTestShop(t)
	deskCookie, technician := s.hire("Ines", "desk"), s.hire("Tomas", "technician")
	const alarm = "No email is being sent"
	s.send(http.MethodGet, "/", nil, "Cookie", deskCookie).code(http.StatusOK).silent(alarm)
	if err := outbox.Hold(t.Context(), storetest.Writer(t, s.app.DB), s.now, "owner", "looking at a complaint"); err != nil {
		t.Fatal(err)
	}
	s.send(http.MethodGet, "/", nil, "Cookie", deskCookie).code(http.StatusOK).says(alarm, "looking at a complaint")
	s.send(http.MethodGet, "/boats/PERCH", nil, "Cookie", technician).code(http.StatusOK).silent(alarm)
}

// TestAMachineWithoutTheLeaseSaysSo: nothing leaves it, and the desk sees it.
func TestAMachineWithoutTheLeaseSaysSo(t *testing.T) {
	s := newTestShop(t)
	if err := outbox.SetSending(t.Context(), storetest.Writer(t, s.app.DB), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	cookie := s.hire("Ines", "desk")
	const alarm = "this machine does not have the lease"
	has := true
	s.app.MaySend = func() bool { return has }
	s.send(http.MethodGet, "/", nil, "Cookie", cookie).code(http.StatusOK).silent(alarm)
	has = false
	s.send(http.MethodGet, "/", nil, "Cookie", cookie).code(http.StatusOK).says(alarm)
}

// TestAMachineThatWasReplacedTakesNoForms: what desk, customers and mail programs send is
// refused and nothing of it is on file; pages still open.
func TestAMachineThatWasReplacedTakesNoForms(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ines", "desk")
	replaced := true
	s.app.Elsewhere = func() bool { return replaced }
	call := url.Values{"outcome": {"settled"}, "note": {"Comes on Friday"}}
	phone := url.Values{"phone": {"555-0199"}}
	stop := func(code int) {
		s.send(http.MethodPost, s.stopPath("W1"), url.Values{"List-Unsubscribe": {"One-Click"}}).code(code)
		choice, err := s.app.DB.MailChoice(t.Context(), "W1")
		if stopped := choice != (store.MailChoice{}); err != nil || stopped != (code == http.StatusOK) {
			t.Errorf("answered %d, and the customer's choice is %+v, %v", code, choice, err)
		}
	}
	s.send(http.MethodGet, "/", nil, "Cookie", cookie).code(http.StatusOK).says("Another machine runs the shop now")
	s.get(s.my("W1")).code(http.StatusOK)
	s.as(cookie, http.MethodPost, "/boats/PERCH/call", call).code(http.StatusServiceUnavailable).says("Nothing was saved", "to send again", "Comes on Friday").silent("may not have been saved", "Look at the email")
	s.send(http.MethodPost, s.my("W1")+"/contact", phone, "Sec-Fetch-Site", "same-origin").code(http.StatusServiceUnavailable).says("Nothing was saved", "555-0199")
	s.send(http.MethodPost, s.my("W1")+"/contact?lang=fr", phone, "Sec-Fetch-Site", "same-origin").code(http.StatusServiceUnavailable).says("enregistr")
	stop(http.StatusServiceUnavailable)
	replaced = false
	s.as(cookie, http.MethodPost, "/boats/PERCH/call", call).code(http.StatusSeeOther)
	stop(http.StatusOK)
}

// TestTheDeskSaysWhatRefusedAddressesAre: the page names them, and either word
// lets the queue go on.
func TestTheDeskSaysWhatRefusedAddressesAre(t *testing.T) {
	for do, want := range map[string]schedule.MessageState{"again": schedule.MessageDeferred, "dead": schedule.MessageRefused} {
		t.Run(do, func(t *testing.T) {
			s := newTestShop(t)
			db, cookie := storetest.Writer(t, s.app.DB), s.hire("Ines", "desk")
			if err := outbox.SetSending(t.Context(), db, s.now, "owner", true); err != nil {
				t.Fatal(err)
			}
			l := schedule.Message{Key: "k1", To: "gone@mail.example", From: "s@shop.example", MessageID: "k1@shop.example", Raw: []byte("x"), NotAfter: s.now.AddDate(0, 0, 9)}
			if _, err := outbox.Enqueue(t.Context(), db, s.now, []outbox.NewMessage{{Message: l}}); err != nil {
				t.Fatal(err)
			}
			l, err := outbox.NewQueue(db).Claim(t.Context(), s.now, lease)
			if err != nil {
				t.Fatal(err)
			}
			o := schedule.Outcome{State: schedule.MessageRefused, Code: 550, Enhanced: "5.1.1", Answer: "no such user", Suppress: true}
			if err := outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, o, s.now); err != nil {
				t.Fatal(err)
			}
			if err := outbox.NewQueue(db).Brake(t.Context(), schedule.Brake{Why: "five in a row", Doubted: []int64{l.ID}}, s.now); err != nil {
				t.Fatal(err)
			}
			s.send(http.MethodGet, "/", nil, "Cookie", cookie).says("No email is being sent", "five in a row")
			s.send(http.MethodGet, "/email", nil, "Cookie", cookie).code(http.StatusOK).says("gone@mail.example", "no such user", "It was the server", "The addresses are dead")
			s.as(cookie, http.MethodPost, "/email/refused", url.Values{"do": {do}}).code(http.StatusSeeOther)
			s.as(cookie, http.MethodPost, "/email/refused", url.Values{"do": {do}}).code(http.StatusConflict)
			s.as(cookie, http.MethodPost, "/email/refused", url.Values{}).code(http.StatusBadRequest)
			if got, err := outbox.Message(t.Context(), db.Reader, l.ID); err != nil || got.State != want {
				t.Errorf("the letter is %s, %v; want %s", got.State, err, want)
			}
			s.send(http.MethodGet, "/", nil, "Cookie", cookie).silent("No email is being sent")
		})
	}
}

const lease = 15 * time.Minute
