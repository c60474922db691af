package feed

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Validate refuses a calendar that some client might drop, misread or
// choke on. It knows the feeds of this package and is stricter than RFC 5545:
// no METHOD, no time zones by name, no to-dos, each event with a UID of its
// own, a stamp, a start and a later end of the same type, every line folded at
// 75 octets. Faults name the physical line. All faults of the content are
// reported; a fault of the lines themselves is reported alone.
func Validate(body []byte) error {
	lines, err := icsReadLines(body)
	if err != nil {
		return err
	}
	root, err := icsTree(lines)
	if err != nil {
		return err
	}
	if root.name != "VCALENDAR" {
		return fmt.Errorf("line 1: BEGIN:%s; want BEGIN:VCALENDAR", root.name)
	}
	c := icsChecker{uids: make(map[string]int)}
	c.calendar(root)
	return errors.Join(c.faults...)
}

// validateEvent checks one rendered VEVENT by itself.
func validateEvent(block []byte) error {
	lines, err := icsReadLines(block)
	if err != nil {
		return err
	}
	root, err := icsTree(lines)
	if err != nil {
		return err
	}
	c := icsChecker{uids: make(map[string]int)}
	c.event(root)
	return errors.Join(c.faults...)
}

// icsNode is a component with its properties and children.
type icsNode struct {
	name     string
	at       int
	props    []icsLine
	children []*icsNode
}

// icsTree nests lines by BEGIN and END. Depth is bounded: a feed has three
// levels.
func icsTree(lines []icsLine) (*icsNode, error) {
	var open []*icsNode
	for i, l := range lines {
		switch {
		case l.name == "BEGIN":
			if len(open) == 3 {
				return nil, l.fault("%s nested too deep", l.value)
			}
			n := &icsNode{name: l.value, at: l.at}
			if len(open) > 0 {
				top := open[len(open)-1]
				top.children = append(top.children, n)
			}
			open = append(open, n)
		case len(open) == 0:
			return nil, l.fault("outside of any component")
		case l.name != "END":
			top := open[len(open)-1]
			top.props = append(top.props, l)
		case l.value != open[len(open)-1].name:
			return nil, l.fault("%q closes %q of line %d", l.value, open[len(open)-1].name, open[len(open)-1].at)
		case len(open) > 1:
			open = open[:len(open)-1]
		case i < len(lines)-1:
			return nil, lines[i+1].fault("after the end")
		default:
			return open[0], nil
		}
	}
	return nil, fmt.Errorf("no END: cut off?")
}

// icsChecker collects faults.
type icsChecker struct {
	faults []error
	uids   map[string]int // to the line it was first seen on
}

func (c *icsChecker) add(err error) { c.faults = append(c.faults, err) }

// props checks a component's properties against the table of what it may hold,
// and returns them by name.
func (c *icsChecker) props(n *icsNode) map[string]icsLine {
	table, seen := icsProps[n.name], make(map[string]icsLine)
	for _, l := range n.props {
		known := slices.IndexFunc(table, func(p icsProp) bool { return p.name == l.name })
		first, twice := seen[l.name]
		switch {
		case known < 0:
			c.add(l.fault("has no place in the %s of a feed", n.name))
		case twice:
			c.add(l.fault("again; first on line %d", first.at))
		case !table[known].fits(l):
			c.add(l.fault("%.60q with parameters %q is not of its type", l.value, l.params))
		}
		seen[l.name] = l
	}
	for _, p := range table {
		if _, ok := seen[p.name]; p.must && !ok {
			c.add(fmt.Errorf("line %d: %s has no %s", n.at, n.name, p.name))
		}
	}
	return seen
}

func (c *icsChecker) calendar(n *icsNode) {
	c.props(n)
	if len(n.children) == 0 {
		c.add(fmt.Errorf("line %d: a calendar without any event (RFC 5545 3.6)", n.at))
	}
	for _, child := range n.children {
		c.event(child)
	}
}

func (c *icsChecker) event(n *icsNode) {
	if n.name != "VEVENT" {
		c.add(fmt.Errorf("line %d: %s; a feed holds events only", n.at, n.name))
		return
	}
	p := c.props(n)
	uid := p["UID"]
	if first, twice := c.uids[uid.value]; twice {
		c.add(uid.fault("%q is also that of line %d", uid.value, first))
	}
	c.uids[uid.value] = uid.at
	start, end := p["DTSTART"], p["DTEND"]
	// Of one type both have the same length, and compare as text.
	if start.params != end.params || len(start.value) != len(end.value) || end.value <= start.value {
		c.add(end.fault("%q is not after the start %q and of its type", end.value, start.value))
	}
	for _, child := range n.children {
		if child.name != "VALARM" {
			c.add(fmt.Errorf("line %d: %s in an event", child.at, child.name))
			continue
		}
		c.props(child)
	}
}

// icsLine is one content line, unfolded.
type icsLine struct {
	at     int    // number of its first physical line, from 1
	name   string // "DTSTART"
	params string // "VALUE=DATE", as written, "" for none
	value  string
}

func (l icsLine) fault(format string, args ...any) error {
	return fmt.Errorf("line %d: %s: %s", l.at, l.name, fmt.Sprintf(format, args...))
}

// icsReadLines takes folded bytes apart and refuses what RFC 5545 3.1 does not
// allow, and two things it does allow that readers were seen to trip over: a
// fold inside a character or inside an escape.
func icsReadLines(body []byte) ([]icsLine, error) {
	if !bytes.HasSuffix(body, []byte("\r\n")) {
		return nil, fmt.Errorf("does not end in CRLF: cut off?")
	}
	var lines []icsLine
	var text []byte // the content line being put together
	first := 0
	for n, phys := range bytes.Split(bytes.TrimSuffix(body, []byte("\r\n")), []byte("\r\n")) {
		if err := icsPhysical(phys); err != nil {
			return nil, fmt.Errorf("line %d: %w", n+1, err)
		}
		if phys[0] == ' ' {
			if first == 0 {
				return nil, fmt.Errorf("line %d: a continuation of nothing", n+1)
			}
			if icsOddBackslashes(text) {
				return nil, fmt.Errorf("line %d: folded inside an escape", n+1)
			}
			text = append(text, phys[1:]...)
			continue
		}
		if first > 0 {
			l, err := icsReadLine(first, string(text))
			if err != nil {
				return nil, err
			}
			lines = append(lines, l)
		}
		first, text = n+1, append(text[:0], phys...)
	}
	l, err := icsReadLine(first, string(text))
	return append(lines, l), err
}

// icsPhysical checks one physical line, without its CRLF.
func icsPhysical(line []byte) error {
	switch {
	case len(line) == 0:
		return fmt.Errorf("empty")
	case len(line) > foldAt:
		return fmt.Errorf("%d octets; fold at %d", len(line), foldAt)
	case !utf8.Valid(line):
		return fmt.Errorf("not UTF-8, or folded inside a character")
	}
	for _, b := range line {
		if b < 0x20 && b != '\t' || b == 0x7f {
			return fmt.Errorf("control character %#02x", b)
		}
	}
	return nil
}

// icsOddBackslashes reports whether a text ends in half an escape.
func icsOddBackslashes(text []byte) bool {
	return (len(text)-len(bytes.TrimRight(text, `\`)))%2 == 1
}

// icsReadLine splits a content line into name, parameters and value.
func icsReadLine(at int, text string) (icsLine, error) {
	quoted := false
	colon := strings.IndexFunc(text, func(r rune) bool {
		if r == '"' {
			quoted = !quoted
		}
		return r == ':' && !quoted
	})
	if colon < 0 {
		return icsLine{}, fmt.Errorf("line %d: no colon after the name", at)
	}
	l := icsLine{at: at, value: text[colon+1:]}
	l.name, l.params, _ = strings.Cut(text[:colon], ";")
	if l.name == "" || strings.Trim(l.name, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-") != "" {
		return icsLine{}, fmt.Errorf("line %d: name %q; want capital letters, digits and hyphens", at, l.name)
	}
	return l, nil
}

// icsProp is a property that a component of a feed may hold.
type icsProp struct {
	name string
	must bool
	fits func(icsLine) bool // the value and the parameters are of its type
}

// icsProps is what each component of a feed may hold.
var icsProps = map[string][]icsProp{
	"VCALENDAR": {
		{"PRODID", true, icsIsText}, {"VERSION", true, icsIsWord("2.0")}, {"CALSCALE", false, icsIsWord("GREGORIAN")},
		{"NAME", false, icsIsText}, {"X-WR-CALNAME", false, icsIsText},
		{"DESCRIPTION", false, icsIsText}, {"X-WR-CALDESC", false, icsIsText},
		{"URL", false, icsIsAddress}, {"SOURCE", false, icsWith("VALUE=URI", icsIsAddress)},
		{"REFRESH-INTERVAL", false, icsWith("VALUE=DURATION", icsIsDuration)}, {"X-PUBLISHED-TTL", false, icsIsDuration},
	},
	"VEVENT": {
		{"UID", true, icsIsText}, {"DTSTAMP", true, icsIsInstant}, {"LAST-MODIFIED", true, icsIsInstant}, {"SEQUENCE", true, icsIsCount},
		{"DTSTART", true, icsIsTime}, {"DTEND", true, icsIsTime},
		{"SUMMARY", true, icsIsText}, {"DESCRIPTION", false, icsIsText}, {"LOCATION", false, icsIsText},
		{"CATEGORIES", false, icsIsTexts}, {"URL", false, icsIsAddress},
		{"STATUS", true, icsIsWord("CONFIRMED", "TENTATIVE")}, {"TRANSP", true, icsIsWord("OPAQUE", "TRANSPARENT")},
		{"X-MICROSOFT-CDO-BUSYSTATUS", false, icsIsWord("FREE")},
	},
	"VALARM": {{"ACTION", true, icsIsWord("DISPLAY")}, {"DESCRIPTION", true, icsIsText}, {"TRIGGER", true, icsIsLead}},
}

// icsWith asks for a parameter, and for the rest what fits asks of a bare value.
func icsWith(params string, fits func(icsLine) bool) func(icsLine) bool {
	return func(l icsLine) bool {
		had := l.params
		l.params = ""
		return had == params && fits(l)
	}
}

func icsIsWord(words ...string) func(icsLine) bool {
	return func(l icsLine) bool { return l.params == "" && slices.Contains(words, l.value) }
}

func icsIsAddress(l icsLine) bool {
	s, err := webAddress(l.value)
	return err == nil && l.params == "" && s == l.value
}

func icsIsInstant(l icsLine) bool { return l.params == "" && icsIsStamp(l.value, "20060102T150405Z") }

// icsIsTime takes a day or an instant in UTC, and no local time.
func icsIsTime(l icsLine) bool {
	return icsIsInstant(l) || l.params == "VALUE=DATE" && icsIsStamp(l.value, "20060102")
}

func icsIsStamp(value, layout string) bool {
	t, err := time.Parse(layout, value)
	return err == nil && t.Format(layout) == value
}

func icsIsCount(l icsLine) bool {
	n, err := strconv.ParseUint(l.value, 10, 31)
	return err == nil && l.params == "" && strconv.FormatUint(n, 10) == l.value
}

// icsIsDuration takes the forms that icsDuration writes.
func icsIsDuration(l icsLine) bool {
	value, ok := strings.CutPrefix(l.value, "P")
	units := "D"
	if rest, clock := strings.CutPrefix(value, "T"); clock {
		value, units = rest, "HMS"
	}
	if !ok || l.params != "" || len(value) < 2 || !strings.Contains(units, value[len(value)-1:]) {
		return false
	}
	n, err := strconv.ParseUint(value[:len(value)-1], 10, 31)
	return err == nil && n > 0
}

// icsIsLead takes a time before the start.
func icsIsLead(l icsLine) bool {
	value, before := strings.CutPrefix(l.value, "-")
	l.value = value
	return before && icsIsDuration(l)
}

func icsIsText(l icsLine) bool  { return l.params == "" && icsEscaped(l.value, `\;,`) }
func icsIsTexts(l icsLine) bool { return l.params == "" && icsEscaped(l.value, `\;`) }

// icsEscaped reports whether a text is there and escaped as RFC 5545 3.3.11 has
// it: special characters only after a backslash, and a backslash only before
// one of its four.
func icsEscaped(value, special string) bool {
	for i := 0; i < len(value); i++ {
		if value[i] == '\\' {
			if i++; i == len(value) || !strings.ContainsRune(`\;,nN`, rune(value[i])) {
				return false
			}
		} else if strings.IndexByte(special, value[i]) >= 0 {
			return false
		}
	}
	return value != ""
}
