package bounce

import (
	"regexp"
	"strings"
)

// CalendarReply is what a calendar program sent back about an invitation (RFC 5546,
// 3.2.3). It proves nothing of who sent it.
type CalendarReply struct {
	UID      string // of the appointment
	Attendee string // the address that replies
	Answer   string // PARTSTAT: "ACCEPTED", "DECLINED", "TENTATIVE"
}

// ParseCalendarReply reads a message of a calendar program, false if it is none. Some
// leave the organizer out; uid and attendee say enough.
func ParseCalendarReply(message []byte) (CalendarReply, bool) {
	part := scanPart(message, 0).find("text/calendar", "application/ics")
	if part == nil {
		return CalendarReply{}, false
	}
	lines := strings.Split(foldedLine.ReplaceAllString(lfOnly(part.body), ""), "\n")
	var r CalendarReply
	reply := false
	for _, line := range lines {
		head, value, _ := strings.Cut(strings.TrimSpace(line), ":")
		name, params, _ := strings.Cut(strings.ToUpper(head), ";")
		switch {
		case name == "METHOD":
			reply = strings.EqualFold(value, "REPLY")
		case name == "UID" && r.UID == "":
			r.UID = value
		case name == "ATTENDEE" && r.Attendee == "":
			// A name in quotes may have a colon.
			r.Attendee = addressPattern.FindString(untilMailto.ReplaceAllString(line, ""))
			if m := partStat.FindStringSubmatch(params); m != nil {
				r.Answer = m[1]
			} else if m := partStat.FindStringSubmatch(strings.ToUpper(line)); m != nil {
				r.Answer = m[1]
			}
		}
	}
	return r, reply && r.UID != "" && r.Attendee != ""
}

var (
	foldedLine  = regexp.MustCompile(`\n[ \t]`)
	untilMailto = regexp.MustCompile(`(?i)^.*mailto:`)
	partStat    = regexp.MustCompile(`PARTSTAT="?([A-Z-]+)`)
)
