package web_test

import (
	"bytes"
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/http"
	"net/http/httptest"
	"net/mail"
	"net/textproto"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
)

// read is a piece of an email that somebody reads, as the answer to a request.
func read(t *testing.T, body io.Reader, h textproto.MIMEHeader) (all []answered) {
	t.Helper()
	switch h.Get("Content-Transfer-Encoding") {
	case "quoted-printable":
		body = quotedprintable.NewReader(body)
	case "base64":
		body = base64.NewDecoder(base64.StdEncoding, body)
	}
	kind, parameters, err := mime.ParseMediaType(h.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(kind, "multipart/") {
		a := answered{httptest.NewRecorder(), t}
		a.Header().Set("Content-Type", kind)
		if _, err := io.Copy(a.Body, body); err != nil {
			t.Fatal(err)
		}
		return []answered{a}
	}
	for parts := multipart.NewReader(body, parameters["boundary"]); ; {
		p, err := parts.NextRawPart()
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, read(t, p, p.Header)...)
	}
}

// TestACustomersYearInFrench: through a year of reminders, bookings, a cancellation,
// a sale and questions a shop in French Canada writes to two customers in French, and
// to the third, who reads English, in English; so do their pages and calendars.
func TestACustomersYearInFrench(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through a year")
	}
	s := inFrench(t, "")("")
	s.speaks("W2", "en")
	if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	for day := range 400 {
		s.now = s.now.Add(24 * time.Hour)
		switch day {
		case 5:
			s.bookPerch()
		case 20:
			s.as(s.hire("Inge", "desk"), "POST", "/boats/PERCH/owner", url.Values{"what": {"sold-on"}, "day": {s.today().String()}, "customer": {"W3"}, "booked": {"keep"}}).code(http.StatusSeeOther)
		case 40:
			if _, err := s.app.Unbook(t.Context(), s.now, "Inge", "PERCH", perchVisit, nil, nil); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
			t.Fatal(err)
		}
		if _, err := s.app.Remind(t.Context(), s.now); err != nil {
			t.Fatal(err)
		}
	}
	all, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{Limit: 1000})
	if err != nil {
		t.Fatal(err)
	}
	var steps []schedule.Step
	shownTo := make(map[bool][]shown)
	for _, m := range all {
		whole, err := outbox.Message(t.Context(), s.app.DB, m.ID)
		if err != nil {
			t.Fatal(err)
		}
		letter, err := mail.ReadMessage(bytes.NewReader(whole.Raw))
		if err != nil {
			t.Fatal(err)
		}
		subject := answered{httptest.NewRecorder(), t}
		subject.WriteString(m.Subject)
		for _, a := range append(read(t, letter.Body, textproto.MIMEHeader(letter.Header)), subject) {
			shownTo[m.CustomerID == "W2"] = append(shownTo[m.CustomerID == "W2"], shown{route: string(m.Step), name: m.CustomerID, answered: a})
		}
		steps = append(steps, m.Step)
	}
	for _, id := range []string{"W1", "W2", "W3"} {
		shownTo[id == "W2"] = append(shownTo[id == "W2"], shown{route: "page", name: id, answered: s.get(s.my(id)).code(http.StatusOK)})
		f, err := s.app.Feed(t.Context(), link.ScopeCustomer, id, s.today())
		if err != nil {
			t.Fatal(err)
		}
		a := answered{httptest.NewRecorder(), t}
		for line := range strings.SplitSeq(strings.ReplaceAll(string(f.Body), "\r\n ", ""), "\r\n") {
			if name, text, _ := strings.Cut(line, ":"); slices.Contains([]string{"SUMMARY", "DESCRIPTION", "X-WR-CALNAME"}, name) {
				a.WriteString(strings.ReplaceAll(text, `\n`, "\n") + "\n")
			}
		}
		shownTo[id == "W2"] = append(shownTo[id == "W2"], shown{route: "calendar", name: id, answered: a})
	}
	slices.Sort(steps)
	steps = slices.Compact(steps)
	if len(steps) < 9 {
		t.Errorf("%d kinds of email: %v", len(steps), steps)
	}
	speaksOnly(t, shownTo[false], "fr", englishWords, englishForms)
	speaksOnly(t, shownTo[true], "en", frenchWords, frenchForms)
}
