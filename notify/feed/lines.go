package feed

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"
)

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
