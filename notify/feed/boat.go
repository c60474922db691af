package feed

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/emersion/go-ical"
	"github.com/google/uuid"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// Shop is what the events of a feed say about the shop.
type Shop struct {
	Name    string
	Address string // where a booked boat is brought, on one line
	Host    string // of the shop's pages: with it the UIDs are the shop's own
	Format  words.Format
	Zone    *time.Location
	Texts   *texts.Texts // in the reader's language, as Format is; nil is English
	// BringIn is how long bringing the boat in takes; an appointment is shown
	// that long. 0 is half an hour.
	BringIn time.Duration
	// BusyDays: a booked day without an hour takes its reader's time too.
	BusyDays bool
}

// texts are the phrases of the reader's language.
func (s *Shop) texts() *texts.Texts {
	if s.Texts != nil {
		return s.Texts
	}
	return (*texts.Catalog)(nil).In(words.English)
}

// Links are the addresses written into a boat's events. Who may read the
// feed may follow them, so they open no more than its reader should have.
type Links struct {
	// Visit is where the customer answers about a visit, given its ID; nil or
	// "" leaves it out.
	Visit func(visitID string) string
	// Boat is the boat's page, for due days without a visit; "" leaves it out.
	Boat string
}

// uidSpace is the root of the UIDs of events (RFC 9562, 5.5). Changing it
// would make every subscriber's calendar throw away and refetch everything.
var uidSpace = uuid.MustParse("8f2b6a54-33c7-4d1e-9a7f-5c0d2e61b874")

// UID is the UID of the event about id, a visit's ID or an item's: the same
// for the same shop and id, always. It is a UUID that tells nothing about shop,
// boat or owner, as RFC 7986 5.3 asks.
func UID(host, id string) string {
	return uuid.NewSHA1(uidSpace, []byte(host+"\x00"+id)).String()
}

// BoatEvents makes the events of one boat: one for each visit, and one for each
// due day that no visit takes care of but the owner should know, because he
// does the job himself or because something may not be used after it. What is
// done or cancelled is no longer in the view and so leaves the feed.
//
// A penciled visit spans its whole week, or is on its likely day while it has
// no week, and is tentative; its title says that it is not booked. A booked one is an appointment, or the whole day;
// once that day has passed its title says so, as the work is not recorded.
func BoatEvents(shop Shop, v schedule.BoatView, links Links, today civil.Day) []Event {
	events := make([]Event, 0, len(v.Visits))
	for i := range v.Visits {
		events = append(events, visitEvent(shop, &v, &v.Visits[i], links, today))
	}
	for i := range v.Loose {
		if ownersDay(&v.Loose[i].Item) {
			events = append(events, dueEvent(shop, &v, &v.Loose[i], links.Boat))
		}
	}
	return events
}

func visitEvent(shop Shop, v *schedule.BoatView, visit *schedule.VisitView, links Links, today civil.Day) Event {
	e := Event{
		UID:        UID(shop.Host, visit.Visit.ID),
		Summary:    shop.texts().Say("event.visit", "visit", visit.Title, "boat", v.Boat.Title()),
		Tentative:  !visit.Visit.Booked(),
		Categories: []string{visit.Title},
	}
	if links.Visit != nil && visit.Visit.Kind != schedule.Winter { // nothing to answer: the boat is in our storage
		e.URL = links.Visit(visit.Visit.ID)
	}
	e.Description = visitNote(shop, visit, e.URL, today)
	from, to := visit.Visit.SpanOn()
	e.Start, e.End = from, to+1
	b := visit.Visit.Booking
	if b == nil {
		e.Summary = shop.texts().Say("event.open", "event", e.Summary)
		return e
	}
	e.Busy = b.Minute >= 0 || shop.BusyDays
	e.Location = shop.Address
	if b.Day < today {
		e.Summary = shop.texts().Say("event.passed", "event", e.Summary)
	}
	if b.Minute >= 0 {
		e.At, e.Duration = b.Day.At(b.Minute/60, b.Minute%60, shop.Zone), shop.BringIn
		if e.Duration < time.Minute {
			e.Duration = 30 * time.Minute
		}
	}
	return e
}

// ownersDay reports whether an item without a visit is the owner's business.
func ownersDay(it *schedule.DueItem) bool {
	return it.ByCustomer || it.Basis == schedule.BasisExpiry
}

func dueEvent(shop Shop, v *schedule.BoatView, l *schedule.Line, page string) Event {
	return Event{
		UID:         UID(shop.Host, v.Boat.ID+"."+l.Item.Key()),
		Summary:     shop.texts().Say("event.due", "job", l.Title, "boat", v.Boat.Title()),
		Description: dueNote(shop, l, page),
		URL:         page,
		Start:       l.Item.Due, End: l.Item.Due + 1,
		// A day that hangs on running hours is a forecast.
		Tentative:  l.Item.Basis == schedule.BasisHours,
		Categories: []string{shop.texts().Say("event.category")},
	}
}

// DeskEvent makes of a boat's rendered event the one for the desk's feed: the
// same event, stamps and all, without the address at which the customer answers and without
// the owner's cautions. The desk's feed holds every boat: whoever hosts the desk's
// calendar should not be able to answer for every customer. The texts are those
// that the event was made with, in English.
func DeskEvent(t *texts.Texts, block []byte) ([]byte, error) {
	lines, err := icsReadLines(block)
	if err != nil {
		return nil, fmt.Errorf("event for the desk: %w", err)
	}
	var out bytes.Buffer
	for _, l := range lines {
		switch l.name {
		case "URL":
			continue
		case "DESCRIPTION":
			l.value = deskText(t, l.value)
		}
		if l.value == "" {
			continue
		}
		if l.params != "" {
			l.name += ";" + l.params
		}
		out.WriteString(l.name + ":" + l.value + "\r\n")
	}
	block = fold(out.Bytes())
	if err := validateEvent(block); err != nil {
		return nil, fmt.Errorf("event for the desk: %w", err)
	}
	return block, nil
}

// icsUnescape undoes the escapes of RFC 5545 3.3.11.
var icsUnescape = strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n", `\N`, "\n")

// deskText drops the paragraphs of a note, as escaped in an event, that are
// not for the desk: the customer's link and the cautions.
func deskText(t *texts.Texts, escaped string) string {
	lead := t.Say("event.caution", "text", "")
	var keep []string
	for p := range strings.SplitSeq(icsUnescape.Replace(escaped), "\n\n") {
		if !strings.Contains(p, "\nhttp") && (lead == "" || !strings.HasPrefix(p, lead)) {
			keep = append(keep, p)
		}
	}
	return icsText(ical.PropDescription, strings.Join(keep, "\n\n")).Value
}
