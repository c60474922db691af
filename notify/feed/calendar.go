package feed

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"github.com/emersion/go-ical"

	"bellbuoy/schedule/civil"
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
		Summary: "No service is planned",
		Start:   epoch, End: epoch + 1,
	}
	return e.Render(0, time.Unix(0, 0))
}
