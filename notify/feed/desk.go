package feed

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/emersion/go-ical"
)

// DeskEvent makes of a boat's rendered event the one for the desk's feed: the
// same event, stamps and all, without the address at which the customer
// answers, and without what stands on the boat's page and the work sheet: the
// reason of each job, and the cautions. The desk's feed holds every boat:
// neither should whoever hosts the desk's calendar be able to answer for every
// customer, nor would the full notes of a season go into one feed. With the
// titles alone a shop of 400 boats fits, four months of it.
func DeskEvent(block []byte) ([]byte, error) {
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
			l.value = deskText(l.value)
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
// not for the desk: the first of them and what follows.
func deskText(escaped string) string {
	note := icsUnescape.Replace(escaped)
	var keep []string
	for p := range strings.SplitSeq(note, "\n\n") {
		if strings.Contains(p, "\nhttp") || strings.HasPrefix(p, cautionLead) || strings.HasPrefix(p, deferLead) {
			break
		}
		if strings.HasPrefix(p, workLead) {
			p = titlesOnly(p)
		}
		keep = append(keep, p)
	}
	return icsText(ical.PropDescription, strings.Join(keep, "\n\n")).Value
}

// titlesOnly leaves of a list of jobs their titles. A title ends with the first
// full stop that is not within the name of a component, "(No. 2 engine)".
func titlesOnly(work string) string {
	var out []string
	for line := range strings.SplitSeq(work, "\n") {
		for end := 0; ; {
			i := strings.Index(line[end:], ". ")
			if i < 0 {
				break
			}
			end += i + 1
			if title := line[:end]; strings.Count(title, "(") == strings.Count(title, ")") {
				line = title
				break
			}
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}
