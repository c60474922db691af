package feed

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/emersion/go-ical"

	"bellbuoy/schedule/civil"
)

// Event is one event of a calendar feed: a span of whole days, or an
// appointment with a clock time.
//
// Texts may be anything; what cannot stand in a calendar is taken out of them.
type Event struct {
	// UID names the event for ever: the same visit has the same one in every
	// feed and after every change. See [UID].
	UID         string
	Summary     string // one line
	Description string // plain text; clients show HTML as it is written
	Location    string // one line, "" for none
	URL         string // absolute http or https address, "" for none

	Start, End civil.Day // whole days; End is the first day after the span

	At       time.Time     // an appointment if not zero; Start and End are then unused
	Duration time.Duration // of the appointment, at least a minute

	Tentative  bool // penciled in: nobody has booked it
	Busy       bool // it takes its reader's time
	Categories []string

	// Alarm shows a reminder that long before the start; 0, the default, is
	// none. Only for feeds whose reader asked: some clients ignore alarms of
	// subscribed calendars, others ring.
	Alarm time.Duration
}

// Lines are an event as it is written but for what storage knows of it: how often it
// has changed, and when. They are not folded yet.
type Lines []byte

// Hash is the SHA-256, in hex, of everything that Render writes except
// SEQUENCE, DTSTAMP and LAST-MODIFIED. The event has changed when its hash has,
// be it by a fact, by the wording or by a new release.
func (l Lines) Hash() string {
	sum := sha256.Sum256(l)
	return hex.EncodeToString(sum[:])
}

// Render writes the event as a folded VEVENT block with CRLF line ends, ready
// for [Calendar]. seq and changed are the event's own: how often its hash has
// changed and the moment it last did. Clients take a new version only if these
// rose, so they come from storage and never from the clock.
func (l Lines) Render(seq int, changed time.Time) ([]byte, error) {
	if seq < 0 {
		return nil, fmt.Errorf("an event of sequence %d; it counts from 0 and never falls", seq)
	}
	block := []byte(l)
	put := func(property, was, is string) { // a whole line cannot be part of a text
		block = bytes.Replace(block, []byte("\r\n"+property+":"+was+"\r\n"), []byte("\r\n"+property+":"+is+"\r\n"), 1)
	}
	put(ical.PropDateTimeStamp, unstamped, icsInstant(changed))
	put(ical.PropLastModified, unstamped, icsInstant(changed))
	put(ical.PropSequence, "0", strconv.Itoa(seq))
	block = fold(block)
	if err := validateEvent(block); err != nil {
		return nil, fmt.Errorf("an event is written wrongly: %w", err)
	}
	return block, nil
}

// Render writes the event as its lines do, [Event.Lines].
func (e *Event) Render(seq int, changed time.Time) ([]byte, error) {
	lines, err := e.Lines()
	if err != nil {
		return nil, err
	}
	return lines.Render(seq, changed)
}

// check refuses what no cleaning can mend.
func (e *Event) check() error {
	fault := func(format string, args ...any) error {
		return fmt.Errorf("event %q: %s", e.UID, fmt.Sprintf(format, args...))
	}
	switch {
	case e.UID == "" || e.UID != oneLine(e.UID):
		return fault("the uid must be one line of up to %d bytes", maxLine)
	case oneLine(e.Summary) == "":
		return fault("no summary; clients would show an event without a name")
	case e.Alarm < 0:
		return fault("alarm %s; want a time before the start", e.Alarm)
	case e.At.IsZero() && (e.Start <= 0 || e.End <= e.Start || e.End.Year() > 9999):
		return fault("days %q to %q; the end is the first day after the span", e.Start, e.End)
	case !e.At.IsZero() && (e.Duration < time.Minute || e.At.Year() < 1 || e.At.Year() > 9998):
		return fault("appointment of %s; want at least a minute", e.Duration)
	}
	return nil
}

// unstamped is the moment in lines that have not got theirs.
var unstamped = icsInstant(time.Unix(0, 0))

// Lines writes the event but for what storage knows of it. An event that clients could
// not show, for example one without a name or with an end before its start, is refused.
func (e *Event) Lines() (Lines, error) {
	if err := e.check(); err != nil {
		return nil, err
	}
	comp := ical.NewComponent(ical.CompEvent)
	set := func(p *ical.Prop) { comp.Props.Set(p) }
	set(icsValue(ical.PropDateTimeStamp, unstamped))
	set(icsValue(ical.PropLastModified, unstamped))
	set(icsValue(ical.PropSequence, "0"))
	set(icsText(ical.PropUID, e.UID))
	set(icsText(ical.PropSummary, oneLine(e.Summary)))
	if s := note(e.Description); s != "" {
		set(icsText(ical.PropDescription, s))
	}
	if s := oneLine(e.Location); s != "" {
		set(icsText(ical.PropLocation, s))
	}
	if e.URL != "" {
		page, err := webAddress(e.URL)
		if err != nil {
			return nil, fmt.Errorf("event %q: %w", e.UID, err)
		}
		set(icsValue(ical.PropURL, page))
	}
	if p := e.categories(); p != nil {
		set(p)
	}
	e.setTimes(comp)
	if e.Alarm > 0 {
		comp.Children = append(comp.Children, e.alarm())
	}
	cal := ical.NewCalendar()
	cal.Props.Set(icsValue(ical.PropProductID, product))
	cal.Props.Set(icsValue(ical.PropVersion, "2.0"))
	_, block, err := icsEncode(cal, comp)
	return block, err
}

// setTimes writes when it is and what it does to the reader's free time.
func (e *Event) setTimes(comp *ical.Component) {
	status := "CONFIRMED"
	if e.Tentative {
		status = "TENTATIVE"
	}
	comp.Props.Set(icsValue(ical.PropStatus, status))
	if e.Busy {
		comp.Props.Set(icsValue(ical.PropTransparency, "OPAQUE"))
	} else {
		comp.Props.Set(icsValue(ical.PropTransparency, "TRANSPARENT"))
		// Some calendar programs show an all-day event as busy time whatever TRANSP
		// says; this property, documented in [MS-OXCICAL] 2.1.3.1.1.20.31, is what
		// they go by.
		comp.Props.Set(icsValue("X-MICROSOFT-CDO-BUSYSTATUS", "FREE"))
	}
	if e.At.IsZero() {
		comp.Props.Set(icsDay(ical.PropDateTimeStart, e.Start))
		comp.Props.Set(icsDay(ical.PropDateTimeEnd, e.End))
		return
	}
	comp.Props.Set(icsValue(ical.PropDateTimeStart, icsInstant(e.At)))
	comp.Props.Set(icsValue(ical.PropDateTimeEnd, icsInstant(e.At.Add(e.Duration))))
}

func (e *Event) categories() *ical.Prop {
	var list []string
	for _, c := range e.Categories {
		if c = oneLine(c); c != "" {
			list = append(list, c)
		}
	}
	if list == nil {
		return nil
	}
	p := ical.NewProp(ical.PropCategories)
	p.SetTextList(list)
	return p
}

func (e *Event) alarm() *ical.Component {
	comp := ical.NewComponent(ical.CompAlarm)
	comp.Props.Set(icsValue(ical.PropAction, "DISPLAY"))
	comp.Props.Set(icsText(ical.PropDescription, oneLine(e.Summary)))
	comp.Props.Set(icsValue(ical.PropTrigger, "-"+icsDuration(e.Alarm)))
	return comp
}

// The longest texts that go into an event, in bytes. A feed is read by programs
// that stop at about a megabyte; a note of a whole page belongs on the boat's
// page.
const (
	maxLine  = 250  // one-line texts: summary, location, category
	maxNote  = 6000 // description
	ellipsis = "…"
)

// note makes a text of several lines fit for an event: line ends of every
// kind become LF (web forms post CRLF, and a lone CR would fail the whole
// feed), control characters go, broken UTF-8 shows as U+FFFD.
func note(s string) string { return shorten(clean(s), maxNote) }

// oneLine is note for texts that are one line: breaks become spaces.
func oneLine(s string) string {
	return shorten(strings.Join(strings.Fields(clean(s)), " "), maxLine)
}

// lineBreaks makes LF of everything that ends a line somewhere.
var lineBreaks = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n")

func clean(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = lineBreaks.Replace(s)
	s = strings.Map(func(r rune) rune {
		if r != '\n' && r != '\t' && (r < 0x20 || r >= 0x7f && r < 0xa0) {
			return -1
		}
		return r
	}, s)
	return strings.TrimSpace(s)
}

// shorten shortens s to at most limit bytes, at a word's end if one is near,
// and marks the cut.
func shorten(s string, limit int) string {
	if len(s) <= limit {
		return s
	}
	cut := limit - len(ellipsis)
	for !utf8.RuneStart(s[cut]) {
		cut--
	}
	if i := strings.LastIndexAny(s[:cut], " \n"); i > cut-60 {
		cut = i
	}
	return strings.TrimSpace(s[:cut]) + ellipsis
}
