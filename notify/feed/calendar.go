package feed

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/url"
	"time"
	"unicode/utf8"

	"github.com/emersion/go-ical"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

const (
	// product names what wrote the calendar (PRODID).
	product = "-//Bellbuoy//Calendar feed 1//EN"
	// refreshEvery is how often clients are asked to look. RFC 7986 5.7 makes it
	// the shortest interval that is welcome; some clients take it as the
	// interval, and without it one waits a week.
	refreshEvery = 4 * time.Hour
)

// The most that one feed holds. A large reader is said to stop at 1 MB, and one
// report loses events beyond about 1,100.
const (
	MaxEvents = 500
	MaxBytes  = 500_000
)

// Head is what a calendar says about itself.
type Head struct {
	Name        string // what the reader's list of calendars shows: "Heron, boat service"
	Description string // a sentence, "" for none
	None        string // title of the one event of a calendar without any; "" is English
	Page        string // http(s) address of the page about it, "" for none
	Source      string // http(s) address of the feed itself, "" to leave it out
}

// Feed is a calendar ready to be served.
type Feed struct {
	Body []byte // text/calendar, UTF-8
	Cut  int    // events left off at the end because the feed was full; worth a line in the log
}

// Calendar puts rendered events, the nearest first, into a whole calendar and
// checks it. The same head and events give the same bytes. When they are more
// than [MaxEvents] or [MaxBytes] the last are left off and counted.
//
// A feed without events is a calendar too: its bytes hold one event on
// 1 January 1970 that says so, since RFC 5545 3.6 wants at least one component
// and a client that is given none may keep what it had or give up the feed.
func Calendar(h Head, events [][]byte) (Feed, error) {
	if len(events) == 0 {
		placeholder, err := h.nothingPlanned()
		if err != nil {
			return Feed{}, fmt.Errorf("calendar %q: %w", h.Name, err)
		}
		events = [][]byte{placeholder}
	}
	head, err := h.encode()
	if err != nil {
		return Feed{}, fmt.Errorf("calendar %q: %w", h.Name, err)
	}
	const foot = "END:VCALENDAR\r\n"
	size, keep := len(head)+len(foot), 0
	for keep < min(len(events), MaxEvents) && size+len(events[keep]) <= MaxBytes {
		size += len(events[keep])
		keep++
	}
	body := bytes.NewBuffer(make([]byte, 0, size))
	body.Write(head)
	for _, e := range events[:keep] {
		body.Write(e)
	}
	body.WriteString(foot)
	if err := Validate(body.Bytes()); err != nil {
		return Feed{}, fmt.Errorf("calendar %q: not fit to serve: %w", h.Name, err)
	}
	return Feed{Body: body.Bytes(), Cut: len(events) - keep}, nil
}

// encode writes the folded lines before the first event.
func (h *Head) encode() ([]byte, error) {
	cal := ical.NewCalendar()
	set := func(p *ical.Prop) { cal.Props.Set(p) }
	set(icsValue(ical.PropProductID, product))
	set(icsValue(ical.PropVersion, "2.0"))
	set(icsValue(ical.PropCalendarScale, "GREGORIAN"))
	set(icsTyped(ical.PropRefreshInterval, "DURATION", icsDuration(refreshEvery)))
	set(icsValue("X-PUBLISHED-TTL", icsDuration(refreshEvery)))
	if s := oneLine(h.Name); s != "" {
		set(icsText(ical.PropName, s))
		set(icsText("X-WR-CALNAME", s))
	}
	if s := oneLine(h.Description); s != "" {
		set(icsText(ical.PropDescription, s))
		set(icsText("X-WR-CALDESC", s))
	}
	if h.Page != "" {
		page, err := webAddress(h.Page)
		if err != nil {
			return nil, err
		}
		set(icsValue(ical.PropURL, page))
	}
	if h.Source != "" {
		source, err := webAddress(h.Source)
		if err != nil {
			return nil, err
		}
		set(icsTyped(ical.PropSource, "URI", source))
	}
	// go-ical refuses a calendar without children; this one is cut off again.
	child := ical.NewEvent()
	child.Props.Set(icsValue(ical.PropUID, "none"))
	child.Props.Set(icsValue(ical.PropDateTimeStamp, icsInstant(time.Unix(0, 0))))
	head, _, err := icsEncode(cal, child.Component)
	return fold(head), err
}

// nothingPlanned is the one event of a feed that has none. It hangs on what the
// calendar calls itself, so that feeds differ and each stays the same.
func (h *Head) nothingPlanned() ([]byte, error) {
	sum := sha256.Sum256([]byte(h.Name + "\x00" + h.Page))
	epoch := civil.Of(1970, time.January, 1)
	e := Event{
		UID:     "nothing-planned-" + hex.EncodeToString(sum[:16]),
		Summary: cmp.Or(h.None, (*texts.Catalog)(nil).In(words.English).Say("calendar.none")),
		Start:   epoch, End: epoch + 1,
	}
	return e.Render(0, time.Unix(0, 0))
}

// Window is the span of days whose events a feed shows on a day: from about
// two months back, so that a finished or missed day does not vanish at once, to
// nineteen months on, which holds the next lay-up and the fit-out after it
// whenever one looks. From and to are both included.
//
// The window moves on the first of each month and not daily, so that an
// unchanged plan stays the same to the byte; moved is the day it last did. A
// feed's Last-Modified is the later of that day and of its last change.
func Window(today civil.Day) (from, to, moved civil.Day) {
	y, m, _ := today.Date()
	moved = civil.Of(y, m, 1)
	return civil.Of(y, m-time.Month(2), 1), civil.Of(y, m+19, 1) - 1, moved
}

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
	const begin = "\r\nBEGIN:VEVENT\r\n" // a line of its own: a text may end like it
	from := bytes.Index(buf.Bytes(), []byte(begin)) + len("\r\n")
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

// foldAt is the longest line in octets, without its line end (RFC 5545,
// 3.1).
const foldAt = 75

// fold folds every line of a calendar so that none is over 75 octets, the
// space that opens a continuation included. A fold never falls inside a
// character, as RFC 5545 3.1 lets writers do but readers get wrong, nor between
// a backslash and what it escapes, which made readers drop the event.
//
// Lines end in CRLF, in and out.
func fold(lines []byte) []byte {
	out := make([]byte, 0, len(lines)+len(lines)/40)
	for len(lines) > 0 {
		line, rest, _ := bytes.Cut(lines, []byte("\r\n"))
		lines = rest
		for room := foldAt; len(line) > room; room = foldAt - 1 {
			cut := foldPoint(line, room)
			out = append(out, line[:cut]...)
			out = append(out, "\r\n "...)
			line = line[cut:]
		}
		out = append(out, line...)
		out = append(out, "\r\n"...)
	}
	return out
}

// foldPoint is the last place at or before room where the line may be cut.
func foldPoint(line []byte, room int) int {
	cut := room
	for cut > room-utf8.UTFMax && !utf8.RuneStart(line[cut]) {
		cut--
	}
	backslashes := 0
	for cut-backslashes > 0 && line[cut-backslashes-1] == '\\' {
		backslashes++
	}
	// Pairs escape each other; an odd one belongs to what follows. The text
	// before a run of backslashes is never empty: a line starts with a name and
	// a continuation with what the last cut left, which is not half an escape.
	if backslashes%2 == 1 {
		cut--
	}
	return cut
}
