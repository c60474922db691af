package feed

import (
	"errors"
	"fmt"
	"slices"
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
