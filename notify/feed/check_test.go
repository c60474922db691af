package feed_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"bellbuoy/notify/feed"
)

// feedGood is a small calendar in order, which the cases below spoil.
func feedGood(t testing.TB) string {
	t.Helper()
	e := feedPlain()
	e.Description = "Oil, filter; plugs"
	e.Alarm = 3600e9
	feed, err := feed.Calendar(feed.Head{Name: "Heron", Page: "https://example.com/"}, [][]byte{feedRender(t, e)})
	if err != nil {
		t.Fatal(err)
	}
	return string(feed.Body)
}

func TestValidateCalendarFinds(t *testing.T) {
	event := func(s string) string { // one more event, like the first but for its uid
		i := strings.Index(s, "BEGIN:VEVENT")
		j := strings.Index(s, "END:VCALENDAR")
		return s[:j] + s[i:j] + s[j:]
	}
	swap := func(old, new string) func(string) string {
		return func(s string) string { return strings.Replace(s, old, new, 1) }
	}
	for _, c := range []struct {
		name  string
		spoil func(string) string
		say   string
	}{
		{"cut off", func(s string) string { return s[:len(s)/2] }, "CRLF"},
		{"cut off at a line", swap("END:VCALENDAR\r\n", ""), "no END"},
		{"nothing", func(string) string { return "" }, "CRLF"},
		{"LF alone", swap("VERSION:2.0\r\n", "VERSION:2.0\n"), "control character"},
		{"CR alone", swap("SUMMARY:", "SUMMARY:\r"), "control character"},
		{"a long line", swap("SUMMARY:", "SUMMARY:"+strings.Repeat("x", 75)), "octets"},
		{"an empty line", swap("VERSION", "\r\nVERSION"), "empty"},
		{"not UTF-8", swap("SUMMARY:", "SUMMARY:\xff"), "UTF-8"},
		{"folded inside a character", swap("SUMMARY:", "SUMMARY:\xe2\r\n \x80\x94"), "UTF-8"},
		{"folded inside an escape", swap(`Oil\,`, "Oil\\\r\n ,"), "inside an escape"},
		{"a first line that continues", func(s string) string { return " " + s }, "continuation of nothing"},
		{"a byte order mark", func(s string) string { return "\ufeff" + s }, "capital letters"},
		{"a name without value", swap("VERSION:2.0", "VERSION"), "no colon"},
		{"another component first", func(s string) string { return strings.ReplaceAll(s, "VCALENDAR", "VCARD") }, "BEGIN:VCALENDAR"},
		{"two calendars", func(s string) string { return s + s }, "after the end"},
		{"text outside", func(s string) string { return "VERSION:2.0\r\n" + s }, "outside of any component"},
		{"closed by another", swap("END:VALARM", "END:VEVENT"), "closes"},
		{"nested too deep", swap("BEGIN:VALARM", "BEGIN:VALARM\r\nBEGIN:X"), "too deep"},
		{"a method", swap("VERSION", "METHOD:PUBLISH\r\nVERSION"), "METHOD: has no place"},
		{"a named zone", swap("DTSTART;VALUE=DATE:20271004", "DTSTART;TZID=America/New_York:20271004T090000"), "DTSTART"},
		{"a local time", swap("DTSTART;VALUE=DATE:20271004", "DTSTART:20271004T090000"), "DTSTART"},
		{"a zone's rules", swap("BEGIN:VEVENT", "BEGIN:VTIMEZONE\r\nEND:VTIMEZONE\r\nBEGIN:VEVENT"), "VTIMEZONE; a feed holds events only"},
		{"a to-do", func(s string) string { return strings.ReplaceAll(s, "VEVENT", "VTODO") }, "VTODO; a feed holds events only"},
		{"no event", func(s string) string { return s[:strings.Index(s, "BEGIN:VEVENT")] + "END:VCALENDAR\r\n" }, "without any event"},
		{"no product", swap("PRODID", "X-WR-CALDESC"), "VCALENDAR has no PRODID"},
		{"another version", swap("VERSION:2.0", "VERSION:1.0"), "VERSION"},
		{"no uid", swap("UID:one\r\n", ""), "VEVENT has no UID"},
		{"a uid twice", event, "also that of line"},
		{"no stamp", swap("DTSTAMP:20270412T093000Z\r\n", ""), "VEVENT has no DTSTAMP"},
		{"a day that is none", swap("20271011", "20270230"), "not of its type"},
		{"an end on the first day", swap("20271011", "20271004"), "is not after"},
		{"an end of another type", swap("DTEND;VALUE=DATE:20271011", "DTEND:20271011T000000Z"), "of its type"},
		{"no end", swap("DTEND;VALUE=DATE:20271011\r\n", ""), "VEVENT has no DTEND"},
		{"a status of mail", swap("TENTATIVE", "CANCELLED"), "STATUS"},
		{"a summary twice", swap("SUMMARY", "SUMMARY:x\r\nSUMMARY"), "again"},
		{"a bare semicolon", swap(`filter\;`, "filter;"), "DESCRIPTION"},
		{"an unknown escape", swap(`Oil\,`, `Oil\x`), "DESCRIPTION"},
		{"half an escape at the end", swap(`plugs`, `plugs\`), "DESCRIPTION"},
		{"an interval of no type", swap("REFRESH-INTERVAL;VALUE=DURATION", "REFRESH-INTERVAL"), "REFRESH-INTERVAL"},
		{"an interval that is none", swap("X-PUBLISHED-TTL:PT4H", "X-PUBLISHED-TTL:4H"), "X-PUBLISHED-TTL"},
		{"an alarm after the start", swap("-PT1H", "PT1H"), "TRIGGER"},
		{"an alarm that mails", swap("ACTION:DISPLAY", "ACTION:EMAIL"), "ACTION"},
		{"a sequence that is none", swap("SEQUENCE:3", "SEQUENCE:-3"), "SEQUENCE"},
		{"an address that is none", swap("https://example.com/", "example.com"), "URL"},
	} {
		t.Run(c.name, func(t *testing.T) {
			good := feedGood(t)
			bad := c.spoil(good)
			if bad == good {
				t.Fatal("the case spoils nothing")
			}
			if err := feed.Validate([]byte(bad)); err == nil || !strings.Contains(err.Error(), c.say) {
				t.Errorf("got %v; want an error with %q in\n%s", err, c.say, bad)
			}
		})
	}
	if err := feed.Validate([]byte(feedGood(t))); err != nil {
		t.Errorf("the calendar that is in order: %v", err)
	}
}

func TestValidateCalendarNamesTheLine(t *testing.T) {
	bad := strings.Replace(feedGood(t), "SEQUENCE:3", "SEQUENCE:x", 1)
	line := bytes.Count([]byte(bad[:strings.Index(bad, "SEQUENCE")]), []byte("\r\n")) + 1
	if err := feed.Validate([]byte(bad)); err == nil || !strings.HasPrefix(err.Error(), fmt.Sprintf("line %d: SEQUENCE", line)) {
		t.Errorf("got %v; want line %d named", err, line)
	}
}

func FuzzValidateCalendar(f *testing.F) {
	f.Add([]byte(feedGood(f)))
	f.Add([]byte("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"))
	f.Add([]byte("X;A=b\r\n"))
	f.Add([]byte("BEGIN:VCALENDAR\r\n \r\n\t:\"\r\n"))
	f.Fuzz(func(t *testing.T, body []byte) {
		if feed.Validate(body) != nil {
			return
		}
		// What is taken must be taken again when its lines are folded again.
		lines, err := feed.Unfold(body)
		if err != nil {
			t.Fatal(err)
		}
		var flat bytes.Buffer
		for _, l := range lines {
			if l[1] != "" {
				l[0] += ";" + l[1]
			}
			fmt.Fprintf(&flat, "%s:%s\r\n", l[0], l[2])
		}
		if err := feed.Validate(feed.Fold(flat.Bytes())); err != nil {
			t.Errorf("folded anew it is refused: %v\n%q", err, body)
		}
	})
}
