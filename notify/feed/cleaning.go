package feed

import (
	"strings"
	"unicode/utf8"
)

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
