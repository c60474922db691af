package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/notify/message"
	"bellbuoy/store/outbox"
)

// TestTheDeskSaysWhoCancels: what the customer reads of a booking that the desk cancels
// is whose wish it was, with the shop's reason and a sorry if it was the shop's.
func TestTheDeskSaysWhoCancels(t *testing.T) {
	for _, c := range []struct{ name, do, reason, says string }{
		{"the customer", "unbook", "", "You canceled this visit."},
		{"the shop", "unbook-us", "Our lift has broken down.", "We are sorry: we had to cancel this visit. Our lift has broken down."},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			if err := s.app.SwitchSending(t.Context(), s.now, "test", true); err != nil {
				t.Fatal(err)
			}
			desk := s.hire("Inge", "desk")
			form := url.Values{"visit": {perchVisit}, "back": {"/"}, "day": {"2027-05-04"}, "was": {""}, "do": {"book"}}
			s.as(desk, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
			if all, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "W1"}); err != nil || len(all) != 1 {
				t.Fatalf("%d emails, want the confirmation: %v", len(all), err)
			}
			form.Set("was", "2027-05-04")
			form.Set("do", "unbook-us")
			s.as(desk, "POST", "/boats/PERCH/book", form).code(http.StatusUnprocessableEntity).says("Say why you cancel it")
			form.Set("do", c.do)
			form.Set("reason", c.reason)
			s.as(desk, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
			all, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "W1"})
			if err != nil {
				t.Fatal(err)
			}
			text := ""
			for _, l := range all {
				whole, err := outbox.Message(t.Context(), s.app.DB, l.ID)
				if err != nil {
					t.Fatal(err)
				}
				if words, err := message.PlainText(whole.Raw); err != nil {
					t.Fatal(err)
				} else if l.Step == "cancellation" {
					text = strings.Join(strings.Fields(words), " ")
				}
			}
			if !strings.Contains(text, c.says) {
				t.Errorf("the customer does not read %q: %s", c.says, text)
			}
		})
	}
}
