package app_test

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/mail"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/bounce"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// calendarPart is the calendar of an email, "" if it has none, and its method as the
// part's header says it. It asks for the form that calendar programs take for an
// invitation: the last alternative, no attachment.
func calendarPart(t *testing.T, raw []byte) (calendar, method string) {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("the email is %s, %v", kind, err)
	}
	var order []string
	for r := multipart.NewReader(m.Body, params["boundary"]); ; {
		part, err := r.NextRawPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		kind, params, err := mime.ParseMediaType(part.Header.Get("Content-Type"))
		if err != nil {
			t.Fatal(err)
		}
		order = append(order, kind)
		if kind == "text/calendar" {
			body, err := io.ReadAll(base64.NewDecoder(base64.StdEncoding, part))
			if err != nil || !strings.EqualFold(params["charset"], "utf-8") || part.Header.Get("Content-Disposition") != "" {
				t.Errorf("%v, %v, %q", err, params, part.Header)
			}
			calendar, method = strings.ReplaceAll(string(body), "\r\n ", ""), params["method"]
		}
	}
	if want := []string{"text/plain", "text/html", "text/calendar"}; calendar != "" && !slices.Equal(order, want) {
		t.Errorf("the parts are %q, want %q", order, want)
	}
	return calendar, method
}

// property is the value of a calendar's property.
func property(calendar, name string) string {
	for line := range strings.SplitSeq(calendar, "\r\n") {
		if v, ok := strings.CutPrefix(line, name+":"); ok {
			return v
		}
	}
	return ""
}

const byInvitation = "[calendar]\nappointment = \"invitation\"\n"

// told is what the newest email since one told a customer's calendar.
func (p *post) told(customer string, since int64) (calendar, method string, last int64) {
	p.t.Helper()
	all := p.letters(outbox.MessageQuery{CustomerID: customer})
	for _, l := range slices.Backward(all) {
		if last = max(last, l.ID); l.ID <= since || l.State == schedule.MessageWithdrawn {
			continue
		}
		whole, err := outbox.Message(p.t.Context(), p.DB, l.ID)
		if err != nil {
			p.t.Fatal(err)
		}
		calendar, method = calendarPart(p.t, whole.Raw)
	}
	return calendar, method, max(last, since)
}

func (p *post) book(v schedule.Visit, day civil.Day, minute int) {
	p.t.Helper()
	if err := p.Writer().Book(p.t.Context(), p.now, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: day, Minute: minute}, nil, nil); err != nil {
		p.t.Fatal(err)
	}
}

func (p *post) unbook(v schedule.Visit) {
	p.t.Helper()
	if err := p.Writer().Unbook(p.t.Context(), p.now, "test", v.ID, nil, nil); err != nil {
		p.t.Fatal(err)
	}
}

// TestAnAppointmentKeepsItsPlaceInTheCalendar books, moves, moves back, calls off
// and books again: one appointment whose sequence rises, and after it was called
// off a new one.
func TestAnAppointmentKeepsItsPlaceInTheCalendar(t *testing.T) {
	p := newPost(t, byInvitation)
	v, c := p.firstVisit()
	first, second := v.Day-3, v.Day-2
	_, _, last := p.told(c.ID, 0)
	var uid, stamp string
	r := serveRelay(t)
	for _, s := range []struct {
		name, method string
		do           func()
		sequence     string
		start        time.Time
		fresh        bool // an appointment of its own
	}{
		{"booked", "REQUEST", func() { p.book(v, first, 9*60) }, "0", first.At(9, 0, p.Config.Zone()), true},
		{"moved", "REQUEST", func() { p.book(v, second, 9*60) }, "1", second.At(9, 0, p.Config.Zone()), false},
		{"moved to another hour", "REQUEST", func() { p.book(v, second, 14*60) }, "2", second.At(14, 0, p.Config.Zone()), false},
		{"moved back", "REQUEST", func() { p.book(v, first, 9*60) }, "3", first.At(9, 0, p.Config.Zone()), false},
		{"called off", "CANCEL", func() { p.unbook(v) }, "4", first.At(9, 0, p.Config.Zone()), false},
		{"booked again", "REQUEST", func() { p.book(v, first, 9*60) }, "0", first.At(9, 0, p.Config.Zone()), true},
	} {
		p.now = p.now.Add(time.Minute)
		s.do()
		settle(t, p.App, p.day())
		if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
			t.Fatal(err)
		}
		var calendar, method string
		calendar, method, last = p.told(c.ID, last)
		start := s.start.UTC().Format("20060102T150405Z")
		if method != s.method || property(calendar, "METHOD") != s.method || property(calendar, "SEQUENCE") != s.sequence || property(calendar, "DTSTART") != start {
			t.Fatalf("%s: %s of\n%s\nwant %s, sequence %s, from %s", s.name, method, calendar, s.method, s.sequence, start)
		}
		if same := property(calendar, "UID") == uid; same == s.fresh {
			t.Errorf("%s: the uid is %s, before it was %s", s.name, property(calendar, "UID"), uid)
		}
		if now := property(calendar, "DTSTAMP"); now <= stamp {
			t.Errorf("%s: stamped %s after %s", s.name, now, stamp)
		}
		uid, stamp = property(calendar, "UID"), property(calendar, "DTSTAMP")
		p.tick(r)
	}
}

// TestWhoFollowsTheCalendarGetsNoInvitation: by the day of the last fetch, under the
// present address only.
func TestWhoFollowsTheCalendarGetsNoInvitation(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name string
		do   func(p *post, v schedule.Visit, c schedule.Customer)
		want bool
	}{
		{"nobody follows", func(*post, schedule.Visit, schedule.Customer) {}, true},
		{"fetched today", func(p *post, _ schedule.Visit, c schedule.Customer) { p.NoteFetch("customer", c.ID, p.now) }, false},
		{"the boat's, 30 days ago", func(p *post, v schedule.Visit, _ schedule.Customer) {
			p.NoteFetch("boat", v.BoatID, p.now.AddDate(0, 0, -30))
		}, false},
		{"31 days ago", func(p *post, _ schedule.Visit, c schedule.Customer) {
			p.NoteFetch("customer", c.ID, p.now.AddDate(0, 0, -31))
		}, true},
		{"the address was replaced since", func(p *post, _ schedule.Visit, c schedule.Customer) {
			p.NoteFetch("customer", c.ID, p.now)
			p.tick(serveRelay(p.t))
			if err := p.RevokeFeed(p.t.Context(), p.now, "test", "customer", c.ID); err != nil {
				p.t.Fatal(err)
			}
		}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPost(t, byInvitation)
			v, who := p.firstVisit()
			c.do(p, v, who)
			p.tick(serveRelay(t))
			_, _, last := p.told(who.ID, 0)
			p.book(v, v.Day-3, 9*60)
			settle(t, p.App, p.day())
			if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
				t.Fatal(err)
			}
			if calendar, _, _ := p.told(who.ID, last); (calendar != "") != c.want {
				t.Errorf("an invitation is %t, want %t", calendar != "", c.want)
			}
			feed, err := p.Feed(t.Context(), "boat", v.BoatID, p.day())
			if start := (v.Day - 3).At(9, 0, p.Config.Zone()).UTC().Format("20060102T150405Z"); err != nil || !bytes.Contains(feed.Body, []byte("DTSTART:"+start)) {
				t.Errorf("the feed has no visit at %s, %v", start, err)
			}
		})
	}
}

// TestADayWithoutAnHour: the appointment is the shop's drop-off times, and without
// those there is none.
func TestADayWithoutAnHour(t *testing.T) {
	for more, want := range map[string]string{
		byInvitation: "",
		byInvitation + "[drop_off]\nfrom_hour = \"08:00\"\nuntil_hour = \"09:30\"\n":                      "1h30m0s",
		"[calendar]\nappointment = \"none\"\n[drop_off]\nfrom_hour = \"08:00\"\nuntil_hour = \"09:30\"\n": "",
	} {
		p := newPost(t, more)
		v, who := p.firstVisit()
		_, _, last := p.told(who.ID, 0)
		p.book(v, v.Day-3, -1)
		settle(t, p.App, p.day())
		if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
			t.Fatal(err)
		}
		calendar, _, _ := p.told(who.ID, last)
		span := ""
		if calendar != "" {
			const form = "20060102T150405Z"
			from, err1 := time.Parse(form, property(calendar, "DTSTART"))
			to, err2 := time.Parse(form, property(calendar, "DTEND"))
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			span = to.Sub(from).String()
		}
		if span != want {
			t.Errorf("with %q the appointment takes %q, want %q", more, span, want)
		}
	}
}

// TestACancellationWaitsForItsInvitation: the server puts the invitation off, and
// the cancellation does not overtake it.
func TestACancellationWaitsForItsInvitation(t *testing.T) {
	p := newPost(t, byInvitation)
	v, c := p.firstVisit()
	r := serveRelay(t)
	p.tick(r)
	tell := func() {
		settle(t, p.App, p.day())
		if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
			t.Fatal(err)
		}
	}
	p.now = p.now.Add(time.Minute)
	p.book(v, v.Day-3, 9*60)
	tell()
	r.does(func(string) error { return saying(451, [3]int{4, 3, 0}, "later") }, nil)
	p.tick(r) // tried once: it is not looked at again
	p.now = p.now.Add(time.Minute)
	p.unbook(v)
	tell()
	r.does(nil, nil)
	r.heard()
	p.tick(r)
	if asked, _ := r.heard(); slices.Contains(asked, c.Email) {
		t.Error("the cancellation went out while its invitation waits")
	}
	p.now = p.now.Add(time.Hour)
	p.tick(r)
	p.tick(r)
	var methods []string
	for _, l := range slices.Backward(p.letters(outbox.MessageQuery{CustomerID: c.ID, State: schedule.MessageSent})) {
		whole, err := outbox.Message(t.Context(), p.DB, l.ID)
		if err != nil {
			t.Fatal(err)
		}
		if calendar, method := calendarPart(t, whole.Raw); calendar != "" {
			methods = append(methods, fmt.Sprint(method, " ", property(calendar, "SEQUENCE")))
		}
	}
	if want := []string{"REQUEST 0", "CANCEL 1"}; !slices.Equal(methods, want) {
		t.Errorf("the calendar heard %q, want %q", methods, want)
	}
}

// TestAfterARestoreSequencesJump: a backup does not know what was told since.
func TestAfterARestoreSequencesJump(t *testing.T) {
	p := newPost(t, byInvitation)
	v, c := p.firstVisit()
	r := serveRelay(t)
	p.tick(r)
	p.now = p.now.Add(time.Minute)
	p.book(v, v.Day-3, 9*60)
	settle(t, p.App, p.day())
	if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
		t.Fatal(err)
	}
	p.tick(r)
	if err := outbox.AfterRestore(t.Context(), p.Writer(), p.now, "test"); err != nil {
		t.Fatal(err)
	}
	_, _, last := p.told(c.ID, 0)
	p.now = p.now.Add(time.Minute)
	p.book(v, v.Day-2, 9*60)
	settle(t, p.App, p.day())
	if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
		t.Fatal(err)
	}
	if calendar, _, _ := p.told(c.ID, last); property(calendar, "SEQUENCE") != "1001" {
		t.Errorf("after a restore:\n%s", calendar)
	}
}

// TestACalendarsReplyChangesNothing: it is matched by appointment and address, shown
// with the boat, and the visit stays as it is.
func TestACalendarsReplyChangesNothing(t *testing.T) {
	p := newPost(t, byInvitation)
	v, c := p.firstVisit()
	_, _, last := p.told(c.ID, 0)
	p.book(v, v.Day-3, 9*60)
	settle(t, p.App, p.day())
	if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
		t.Fatal(err)
	}
	calendar, _, _ := p.told(c.ID, last)
	reply := func(uid, from, answer string) string {
		return "From: " + from + "\r\nTo: service@lindrake.example\r\nAuto-Submitted: auto-replied\r\nContent-Type: text/calendar; method=REPLY\r\n\r\nBEGIN:VCALENDAR\r\nMETHOD:REPLY\r\nBEGIN:VEVENT\r\nUID:" +
			uid + "\r\nATTENDEE;PARTSTAT=" + answer + ":mailto:" + from + "\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
	}
	uid := property(calendar, "UID")
	for _, s := range []struct {
		message string
		kind    bounce.Kind
		handled bool
	}{
		{reply(uid, c.Email, "ACCEPTED"), app.IncomingCalendar, true},
		{reply(uid, strings.ToUpper(c.Email), "DECLINED"), app.IncomingDeclined, false},
		{reply(uid, "mallory@mail.example", "DECLINED"), app.IncomingPerson, false},
		{reply("unknown", c.Email, "DECLINED"), app.IncomingPerson, false},
	} {
		in := p.take(s.message)
		if in.Kind != s.kind || in.Handled() != s.handled || in.Suppressed || in.Paused {
			t.Errorf("%+v, want %s", in, s.kind)
		}
		if s.kind != app.IncomingPerson && (in.CustomerID != c.ID || !strings.Contains(in.Why, words.Format{}.Date(v.Day-3))) {
			t.Errorf("%+v", in)
		}
	}
	changes, err := report.Changes(t.Context(), p.DB, v.BoatID, 0, 5)
	if err != nil || !strings.Contains(fmt.Sprint(changes), "declined; the visit stays booked") {
		t.Errorf("the boat's page does not show it: %v, %v", changes, err)
	}
	plan, err := p.DB.Plan(t.Context(), v.BoatID)
	if err != nil || !slices.ContainsFunc(plan.Visits, func(w schedule.Visit) bool { return w.ID == v.ID && w.Booked() }) {
		t.Errorf("the visit is no longer booked, %v", err)
	}
}

// TestAnAppointmentFollowsTheAddress: after the email address changed, the old one's
// calendar loses the appointment, by an email that opens nothing, and the new one's gets
// it under a uid of its own.
func TestAnAppointmentFollowsTheAddress(t *testing.T) {
	p := newPost(t, byInvitation)
	v, c := p.firstVisit()
	_, _, last := p.told(c.ID, 0)
	p.book(v, v.Day-3, 9*60)
	settle(t, p.App, p.day())
	if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
		t.Fatal(err)
	}
	before, _, last := p.told(c.ID, last)
	if before == "" {
		t.Fatal("no invitation went out")
	}
	r := serveRelay(t)
	p.tick(r)
	to := c
	to.Email = "new@elsewhere.example"
	p.now = p.now.Add(time.Minute)
	if _, err := p.ChangeCustomer(t.Context(), p.now, "test", "form-1", c, to); err != nil {
		t.Fatal(err)
	}
	for range 2 { // the hourly turn adds nothing
		p.now = p.now.Add(time.Hour)
		p.tick(r)
	}
	type sent struct{ to, method, sequence string }
	var got []sent
	uids := map[string]string{}
	for _, l := range p.letters(outbox.MessageQuery{CustomerID: c.ID}) {
		if l.ID <= last || l.Step != schedule.StepNewAddress {
			continue
		}
		whole, err := outbox.Message(t.Context(), p.DB, l.ID)
		if err != nil {
			t.Fatal(err)
		}
		calendar, method := calendarPart(t, whole.Raw)
		got = append(got, sent{l.To, method, property(calendar, "SEQUENCE")})
		uids[method] = property(calendar, "UID")
		if l.To == c.Email && (bytes.Contains(whole.Raw, []byte("/my/")) || strings.Contains(calendar, "/my/")) {
			t.Errorf("the email to the old address opens the customer's page:\n%s", whole.Raw)
		}
	}
	slices.SortFunc(got, func(a, b sent) int { return strings.Compare(a.method, b.method) })
	if want := []sent{{c.Email, "CANCEL", "1"}, {to.Email, "REQUEST", "0"}}; !slices.Equal(got, want) {
		t.Errorf("sent %v, want %v", got, want)
	}
	if uids["CANCEL"] != property(before, "UID") || uids["REQUEST"] == uids["CANCEL"] {
		t.Errorf("uids %v, the appointment was %s", uids, property(before, "UID"))
	}
}
