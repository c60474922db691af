package feed

import (
	"bytes"
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/emersion/go-ical"
)

// Method is what a calendar object that travels by itself is for (RFC 5546, 1.4).
type Method string

// The methods in use. A feed has none.
const (
	Publish Method = "PUBLISH" // for whoever takes it; nobody is invited
	Request Method = "REQUEST" // an appointment, or its new time
	Cancel  Method = "CANCEL"  // it does not take place
)

// Invitation is one appointment as a calendar object of its own, for an email (RFC
// 6047) or to be fetched. Texts may be anything; what cannot stand in a calendar is
// taken out of them.
type Invitation struct {
	Method Method
	// UID is never that of the feed's event: some clients refuse an appointment
	// whose UID stands in a calendar that they follow.
	UID      string
	Sequence int       // rises with every change of the time and with a cancellation
	Stamp    time.Time // rises with every change

	Summary     string
	Description string
	Location    string
	URL         string // absolute http or https address, "" for none
	At, Until   time.Time

	Organizer mail.Address // who writes: the email's sender
	Attendee  mail.Address // who is written to; not for Publish
}

// Render writes the calendar, folded, with CRLF line ends. The appointment was
// agreed before: its reader has accepted it and no reply is asked for.
func (v *Invitation) Render() ([]byte, error) {
	if err := v.check(); err != nil {
		return nil, fmt.Errorf("invitation %q: %w", v.UID, err)
	}
	comp := ical.NewComponent(ical.CompEvent)
	set := func(p *ical.Prop) { comp.Props.Set(p) }
	set(icsText(ical.PropUID, v.UID))
	set(icsValue(ical.PropDateTimeStamp, icsInstant(v.Stamp)))
	set(icsValue(ical.PropLastModified, icsInstant(v.Stamp)))
	set(icsValue(ical.PropSequence, strconv.Itoa(v.Sequence)))
	set(icsValue(ical.PropDateTimeStart, icsInstant(v.At)))
	set(icsValue(ical.PropDateTimeEnd, icsInstant(v.Until)))
	set(icsText(ical.PropSummary, oneLine(v.Summary)))
	if s := note(v.Description); s != "" {
		set(icsText(ical.PropDescription, s))
	}
	if s := oneLine(v.Location); s != "" {
		set(icsText(ical.PropLocation, s))
	}
	if v.URL != "" {
		page, err := webAddress(v.URL)
		if err != nil {
			return nil, fmt.Errorf("invitation %q: %w", v.UID, err)
		}
		set(icsValue(ical.PropURL, page))
	}
	status := "CONFIRMED"
	if v.Method == Cancel {
		status = "CANCELLED"
	}
	set(icsValue(ical.PropStatus, status))
	set(icsValue(ical.PropTransparency, "OPAQUE"))
	set(calendarUser(ical.PropOrganizer, v.Organizer))
	if v.Method != Publish {
		p := calendarUser(ical.PropAttendee, v.Attendee)
		p.Params.Set("ROLE", "REQ-PARTICIPANT")
		p.Params.Set("PARTSTAT", "ACCEPTED")
		p.Params.Set("RSVP", "FALSE")
		set(p)
	}
	cal := ical.NewCalendar()
	cal.Props.Set(icsValue(ical.PropProductID, product))
	cal.Props.Set(icsValue(ical.PropVersion, "2.0"))
	cal.Props.Set(icsValue(ical.PropMethod, string(v.Method)))
	cal.Children = []*ical.Component{comp}
	var buf bytes.Buffer
	if err := ical.NewEncoder(&buf).Encode(cal); err != nil {
		return nil, fmt.Errorf("invitation %q: encode: %w", v.UID, err)
	}
	body := fold(buf.Bytes())
	if _, err := icsReadLines(body); err != nil {
		return nil, fmt.Errorf("invitation %q: written wrongly: %w", v.UID, err)
	}
	return body, nil
}

// check refuses what RFC 5546 (3.2.1, 3.2.2, 3.2.5) has no place for.
func (v *Invitation) check() error {
	switch {
	case !slices.Contains([]Method{Publish, Request, Cancel}, v.Method):
		return fmt.Errorf("method %q", v.Method)
	case v.UID == "" || v.UID != oneLine(v.UID):
		return errors.New("the uid must be one line")
	case oneLine(v.Summary) == "":
		return errors.New("no summary")
	case v.Sequence < 0 || v.Method == Cancel && v.Sequence == 0:
		return fmt.Errorf("sequence %d; a cancellation raises it", v.Sequence)
	case v.Stamp.IsZero() || v.At.IsZero() || !v.Until.After(v.At):
		return fmt.Errorf("from %s until %s, stamped %s", v.At, v.Until, v.Stamp)
	case !bareAddress(v.Organizer.Address):
		return fmt.Errorf("organizer %q; want a bare mail address", v.Organizer.Address)
	case v.Method != Publish && !bareAddress(v.Attendee.Address):
		return fmt.Errorf("attendee %q; want a bare mail address", v.Attendee.Address)
	}
	return nil
}

func bareAddress(s string) bool {
	return strings.Contains(s, "@") && !strings.ContainsAny(s, " \t\r\n<>\"")
}

// calendarUser is a person or a shop: the address as it is, the name beside it,
// without the quotes that a parameter cannot hold (RFC 5545, 3.2).
func calendarUser(name string, a mail.Address) *ical.Prop {
	p := icsValue(name, "mailto:"+a.Address)
	if cn := strings.ReplaceAll(oneLine(a.Name), `"`, "'"); cn != "" {
		p.Params.Set(ical.ParamCommonName, cn)
	}
	return p
}
