package feed_test

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/emersion/go-ical"

	"bellbuoy/notify/feed"
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
		cal, err := feed.Calendar(feed.Head{Name: location, Description: description}, [][]byte{feedRender(t, e)})
		if err != nil {
			t.Fatal(err)
		}
		decoded, err := feedDecode(cal.Body)
		if err != nil || len(decoded.Children) != 1 {
			t.Fatalf("%v in\n%q", err, cal.Body)
		}
		for name, want := range map[string]string{
			"SUMMARY": feed.OneLine(e.Summary), "DESCRIPTION": feed.Note(description), "LOCATION": feed.OneLine(location),
		} {
			if got, err := decoded.Children[0].Props.Text(name); err != nil || got != want {
				t.Errorf("%s: read as %q, %v; want %q", name, got, err, want)
			}
		}
	})
}
