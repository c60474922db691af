package notify_test

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/emersion/go-ical"

	"bellbuoy/notify"
)

// feedDecode reads with go-ical, which panics on some input that is no
// calendar.
func feedDecode(body []byte) (cal *ical.Calendar, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return ical.NewDecoder(bytes.NewReader(body)).Decode()
}

// FuzzRender: whatever the texts are, the event is written, passes the checker,
// and another reader gets the cleaned texts back.
func FuzzRender(f *testing.F) {
	for _, n := range feedNasty {
		f.Add(n.text, n.text+"\n"+n.text, n.text)
	}
	f.Add("x\r\nATTENDEE:y", "\r\n\r\n\x00\xff", "\ufeff\u2028")
	f.Fuzz(func(t *testing.T, summary, description, location string) {
		e := feedPlain()
		e.Summary, e.Description, e.Location = "x"+summary, description, location
		feed, err := notify.Calendar(notify.FeedHead{Name: location, Description: description}, [][]byte{feedRender(t, e)})
		if err != nil {
			t.Fatal(err)
		}
		cal, err := feedDecode(feed.Body)
		if err != nil || len(cal.Children) != 1 {
			t.Fatalf("%v in\n%q", err, feed.Body)
		}
		for name, want := range map[string]string{
			"SUMMARY": notify.FeedLine(e.Summary), "DESCRIPTION": notify.FeedNote(description), "LOCATION": notify.FeedLine(location),
		} {
			if got, err := cal.Children[0].Props.Text(name); err != nil || got != want {
				t.Errorf("%s: read as %q, %v; want %q", name, got, err, want)
			}
		}
	})
}
