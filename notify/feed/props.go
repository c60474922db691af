package feed

import (
	"bytes"
	"fmt"
	"net/url"
	"time"

	"github.com/emersion/go-ical"

	"bellbuoy/schedule/civil"
)

// icsValue makes a property from a value that is already in the standard's
// form. Names are constants: go-ical writes them unchecked.
func icsValue(name, value string) *ical.Prop {
	p := ical.NewProp(name)
	p.Value = value
	return p
}

// icsText makes a property of type TEXT, escaped as RFC 5545 3.3.11 has it.
// It sets no VALUE parameter: go-ical would write one for every name that it
// does not know, and readers of X- properties look for the bare name.
func icsText(name, text string) *ical.Prop {
	p := ical.NewProp(name)
	p.SetText(text)
	p.Params.Del(ical.ParamValue)
	return p
}

// icsTyped makes a property whose type must be spelled out: RFC 7986 gives
// REFRESH-INTERVAL and SOURCE no default, and go-ical would leave it out.
func icsTyped(name, valueType, value string) *ical.Prop {
	p := icsValue(name, value)
	p.Params.Set(ical.ParamValue, valueType)
	return p
}

// icsDay makes a DATE property.
func icsDay(name string, d civil.Day) *ical.Prop {
	y, m, day := d.Date()
	return icsTyped(name, "DATE", fmt.Sprintf("%04d%02d%02d", y, m, day))
}

// icsInstant writes an instant in UTC, whole seconds.
func icsInstant(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// icsDuration writes a positive duration in the largest unit that is exact:
// P7D, PT2H, PT90M, and in seconds what has some.
func icsDuration(d time.Duration) string {
	switch {
	case d%(24*time.Hour) == 0:
		return fmt.Sprintf("P%dD", d/(24*time.Hour))
	case d%time.Hour == 0:
		return fmt.Sprintf("PT%dH", d/time.Hour)
	case d%time.Minute == 0:
		return fmt.Sprintf("PT%dM", d/time.Minute)
	}
	return fmt.Sprintf("PT%dS", max(1, d/time.Second))
}

// icsEncode encodes a calendar with one event and returns what stands before
// the event and the event itself. go-ical writes only whole calendars, to a
// writer that has already got half of one when an event fails; here it writes
// to memory.
func icsEncode(cal *ical.Calendar, event *ical.Component) (head, block []byte, err error) {
	cal.Children = []*ical.Component{event}
	var buf bytes.Buffer
	if err := ical.NewEncoder(&buf).Encode(cal); err != nil {
		return nil, nil, fmt.Errorf("encode: %w", err)
	}
	from := bytes.Index(buf.Bytes(), []byte("BEGIN:VEVENT\r\n"))
	return buf.Bytes()[:from], bytes.TrimSuffix(buf.Bytes()[from:], []byte("END:VCALENDAR\r\n")), nil
}

// webAddress checks an address for readers to open and writes it in ASCII.
func webAddress(s string) (string, error) {
	u, err := url.Parse(s)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
		return "", fmt.Errorf("address %q; want an absolute one, for example https://service.example.com/my", s)
	}
	return u.String(), nil
}
