package feed_test

import (
	"net/mail"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/feed"
)

func anInvitation() feed.Invitation {
	at := time.Date(2027, 4, 14, 13, 30, 0, 0, time.UTC)
	return feed.Invitation{
		Method: feed.Request, UID: "11111111-2222-5333-8444-555555555555", Stamp: feedChanged,
		Summary: "Bring in Heron: Alder Point Marine", Description: "To change or cancel it:\nhttps://service.example.com/my/t0ken", Location: "12 Harbor Road, Alder Point",
		URL: "https://service.example.com/my/t0ken", At: at, Until: at.Add(30 * time.Minute),
		Organizer: mail.Address{Name: "Alder Point Marine", Address: "service@alder.example"},
		Attendee:  mail.Address{Name: "Asa Lindqvist", Address: "asa@mail.example"},
	}
}

// TestInvitationHoldsToITIP: RFC 5546, 3.2.1, 3.2.2 and 3.2.5: what each method must
// have, may have once, and must not have.
func TestInvitationHoldsToITIP(t *testing.T) {
	for _, c := range []struct {
		method       feed.Method
		sequence     int
		once, absent []string
		status       string
	}{
		{feed.Request, 0, []string{"METHOD", "UID", "DTSTAMP", "DTSTART", "DTEND", "ORGANIZER", "ATTENDEE", "SUMMARY", "SEQUENCE"}, []string{"BEGIN:VALARM", "TZID"}, "CONFIRMED"},
		{feed.Cancel, 3, []string{"METHOD", "UID", "DTSTAMP", "DTSTART", "ORGANIZER", "ATTENDEE", "SEQUENCE"}, []string{"BEGIN:VALARM", "TZID"}, "CANCELLED"},
		{feed.Publish, 0, []string{"METHOD", "UID", "DTSTAMP", "DTSTART", "ORGANIZER", "SUMMARY"}, []string{"ATTENDEE", "BEGIN:VALARM", "TZID"}, "CONFIRMED"},
	} {
		t.Run(string(c.method), func(t *testing.T) {
			v := anInvitation()
			v.Method, v.Sequence = c.method, c.sequence
			body, err := v.Render()
			if err != nil {
				t.Fatal(err)
			}
			lines, err := feed.Unfold(body)
			if err != nil {
				t.Fatal(err)
			}
			count := map[string]int{}
			for _, l := range lines {
				count[l[0]]++
				count[l[0]+":"+l[2]]++
			}
			for _, name := range c.once {
				if count[name] != 1 {
					t.Errorf("%s is in it %d times, want once:\n%s", name, count[name], body)
				}
			}
			for _, text := range c.absent {
				if strings.Contains(string(body), text) {
					t.Errorf("%s has no place in it:\n%s", text, body)
				}
			}
			if count["METHOD:"+string(c.method)] != 1 || count["STATUS:"+c.status] != 1 || count["BEGIN:VEVENT"] != 1 {
				t.Errorf("method, status or event wrong:\n%s", body)
			}
			if c.method != feed.Publish && !strings.Contains(strings.ReplaceAll(string(body), "\r\n ", ""), "PARTSTAT=ACCEPTED;ROLE=REQ-PARTICIPANT;RSVP=FALSE:mailto:asa@mail.example") {
				t.Errorf("the attendee is not one who has accepted:\n%s", body)
			}
		})
	}
}

func TestInvitationRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*feed.Invitation){
		"no method":                        func(v *feed.Invitation) { v.Method = "" },
		"no uid":                           func(v *feed.Invitation) { v.UID = "" },
		"a cancellation that is the first": func(v *feed.Invitation) { v.Method = feed.Cancel },
		"no organizer":                     func(v *feed.Invitation) { v.Organizer.Address = "" },
		"a name in the address":            func(v *feed.Invitation) { v.Organizer.Address = "Shop <a@b.example>" },
		"a line break in the address":      func(v *feed.Invitation) { v.Attendee.Address = "a@b.example\r\nX:y" },
		"an end before the start":          func(v *feed.Invitation) { v.Until = v.At },
	} {
		v := anInvitation()
		if spoil(&v); true {
			if body, err := v.Render(); err == nil {
				t.Errorf("%s was taken:\n%s", name, body)
			}
		}
	}
}

// TestOutsideParsersReadInvitations: what is in names and texts stays there, read by
// three parsers that have nothing in common with this program.
func TestOutsideParsersReadInvitations(t *testing.T) {
	for _, p := range []struct {
		name string
		get  func(*testing.T) feedParser
	}{{"icalendar", feedIcalendar}, {"ical.js", feedICALjs}, {"libical", feedLibical}} {
		t.Run(p.name, func(t *testing.T) {
			parse := p.get(t)
			for _, name := range []string{"Asa", `Åsa "Oz"; Lindqvist, Jr.`, "two\r\nATTENDEE:mailto:x@y.example", strings.Repeat("Long ", 60), "a:b^n'c"} {
				v := anInvitation()
				v.Attendee.Name, v.Summary, v.Method, v.Sequence = name, "Bring in "+name, feed.Cancel, 7
				body, err := v.Render()
				if err != nil {
					t.Fatal(err)
				}
				if slices.ContainsFunc(strings.Split(string(body), "\r\n"), func(l string) bool { return len(l) > 75 }) {
					t.Errorf("a line is too long:\n%s", body)
				}
				seen := parse(t, body)
				if len(seen) != 1 || seen[0].UID != v.UID || seen[0].Start != "20270414T133000Z" || seen[0].Status != "CANCELLED" || seen[0].Sequence != 7 {
					t.Errorf("%q is read as %+v", name, seen)
				}
			}
		})
	}
}
