package bounce_test

import (
	"strings"
	"testing"

	"bellbuoy/notify/bounce"
)

// FuzzParseCalendarReply reads any message as a calendar's reply. What it says is
// one line each, and the same when it is read again.
func FuzzParseCalendarReply(f *testing.F) {
	f.Add([]byte("Content-Type: text/calendar; method=REPLY\r\n\r\nBEGIN:VCALENDAR\r\nMETHOD:REPLY\r\nBEGIN:VEVENT\r\nUID:1\r\nATTENDEE;PARTSTAT=ACC\r\n EPTED:mailto:a@b.example\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"))
	f.Add([]byte("Content-Type: multipart/mixed; boundary=x\r\n\r\n--x\r\nContent-Type: application/ics\r\nContent-Transfer-Encoding: base64\r\n\r\nQkVHSU46VkNBTEVOREFS\r\n--x--\r\n"))
	f.Add([]byte("Content-Type: text/calendar\r\n\r\nATTENDEE;CN=\"a:b;PARTSTAT=DECLINED:mailto:\r\nUID"))
	f.Fuzz(func(t *testing.T, message []byte) {
		got, ok := bounce.ParseCalendarReply(message)
		if again, same := bounce.ParseCalendarReply(message); again != got || same != ok {
			t.Fatalf("%+v, %v and then %+v, %v", got, ok, again, same)
		}
		if ok && (got.UID == "" || got.Attendee == "" || strings.ContainsAny(got.UID+got.Attendee+got.Answer, "\r\n")) {
			t.Fatalf("%+v", got)
		}
	})
}

// FuzzReturnAddress reads any address as one of a letter: only those that were made
// are taken, in any case of letters.
func FuzzReturnAddress(f *testing.F) {
	v, err := bounce.NewVERP("bounce.example", []byte("0123456789abcdef"), []byte("fedcba9876543210"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(v.Address(7))
	f.Add("b+7-@bounce.example")
	f.Add("b+-9223372036854775808-aaaaaaaaaaaaaaaa@bounce.example")
	f.Fuzz(func(t *testing.T, address string) {
		if id, ok := v.Message(address); ok && !strings.EqualFold(strings.TrimSpace(address), v.Address(id)) {
			t.Fatalf("%q is taken for letter %d, which has %s", address, id, v.Address(id))
		}
	})
}
