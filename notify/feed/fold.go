package feed

import (
	"bytes"
	"unicode/utf8"
)

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
