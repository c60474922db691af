package bounce_test

import (
	"strings"
	"testing"

	"bellbuoy/notify/bounce"
)

func TestCalendarReplies(t *testing.T) {
	mail := func(calendar string) string {
		return "From: asa@mail.example\r\nTo: service@kettlecove.example\r\nSubject: Accepted: Bring in Heron\r\nMIME-Version: 1.0\r\n" +
			"Content-Type: multipart/alternative; boundary=x\r\n\r\n--x\r\nContent-Type: text/plain\r\n\r\nAsa has accepted.\r\n" +
			"--x\r\nContent-Type: text/calendar; method=REPLY; charset=UTF-8\r\n\r\n" + strings.ReplaceAll(calendar, "\n", "\r\n") + "\r\n--x--\r\n"
	}
	const head = "BEGIN:VCALENDAR\nVERSION:2.0\nMETHOD:REPLY\nBEGIN:VEVENT\nUID:11111111-2222\n"
	for name, c := range map[string]struct {
		calendar string
		want     bounce.CalendarReply
		ok       bool
	}{
		"accepted": {head + "ORGANIZER:mailto:service@kettlecove.example\nATTENDEE;PARTSTAT=ACCEPTED;CN=Asa:mailto:asa@mail.example\nEND:VEVENT\nEND:VCALENDAR",
			bounce.CalendarReply{UID: "11111111-2222", Attendee: "asa@mail.example", Answer: "ACCEPTED"}, true},
		"declined, folded, without an organizer": {head + "ATTENDEE;CN=\"Asa: home\";PARTST\n AT=DECLINED:MAILTO:asa@mail\n .example\nEND:VEVENT\nEND:VCALENDAR",
			bounce.CalendarReply{UID: "11111111-2222", Attendee: "asa@mail.example", Answer: "DECLINED"}, true},
		"an invitation of somebody else's": {strings.Replace(head, "REPLY", "REQUEST", 1) + "ATTENDEE;PARTSTAT=NEEDS-ACTION:mailto:asa@mail.example\nEND:VEVENT\nEND:VCALENDAR",
			bounce.CalendarReply{}, false},
		"nobody": {head + "END:VEVENT\nEND:VCALENDAR", bounce.CalendarReply{}, false},
	} {
		got, ok := bounce.ParseCalendarReply([]byte(mail(c.calendar)))
		if ok != c.ok || ok && got != c.want {
			t.Errorf("%s: %+v, %t; want %+v", name, got, ok, c.want)
		}
	}
	if _, ok := bounce.ParseCalendarReply([]byte("Subject: x\r\n\r\ny\r\n")); ok {
		t.Error("a plain message is a reply of a calendar")
	}
}
