package feed_test

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"bellbuoy/notify/feed"
)

// The one example of RFC 5545 3.1: three ways of writing the same line.
func TestUnfoldReadsTheExampleOfRFC5545(t *testing.T) {
	const long = "This is a long description that exists on a long line."
	for name, written := range map[string]string{
		"on one line":        "DESCRIPTION:This is a long description that exists on a long line.\r\n",
		"folded once":        "DESCRIPTION:This is a lo\r\n ng description that exists on a long line.\r\n",
		"folded, own spaces": "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			lines, err := feed.Unfold([]byte(written))
			if err != nil || len(lines) != 1 || lines[0] != [3]string{"DESCRIPTION", "", long} {
				t.Errorf("got %q, %v", lines, err)
			}
		})
	}
}

func TestFoldPoints(t *testing.T) {
	fill := func(n int) string { return "X:" + strings.Repeat("x", n-2) }
	for _, c := range []struct{ name, line, want string }{
		{"75 octets stay whole", fill(75), fill(75)},
		{"76 are folded after 75", fill(76), fill(75) + "\r\n x"},
		{"the opening space counts", fill(75) + strings.Repeat("y", 75), fill(75) + "\r\n " + strings.Repeat("y", 74) + "\r\n y"},
		{"not inside a character of two octets", fill(74) + "é", fill(74) + "\r\n é"},
		{"nor of four", fill(72) + "⛵\U0001F6A4", fill(72) + "⛵\r\n \U0001F6A4"},
		{"not inside an escape", fill(74) + `\n`, fill(74) + "\r\n \\n"},
		{"nor inside an escaped backslash", fill(72) + `\\\\n`, fill(72) + "\\\\\r\n \\\\n"},
		{"a whole escape may end the line", fill(73) + `\\` + "n", fill(73) + `\\` + "\r\n n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := string(feed.Fold([]byte(c.line + "\r\n"))); got != c.want+"\r\n" {
				t.Errorf("got  %q\nwant %q", got, c.want)
			}
		})
	}
}

func TestFoldingHolds(t *testing.T) {
	piece := rapid.SampledFrom([]string{`\n`, `\\`, `\,`, `\;`, "x", " ", "  ", "ü", "帆", "\U0001F6A4", "e\u0301", "word "})
	rapid.Check(t, func(t *rapid.T) {
		var lines []string
		for range rapid.IntRange(1, 4).Draw(t, "lines") {
			lines = append(lines, "X-NAME:"+strings.Join(rapid.SliceOfN(piece, 0, 200).Draw(t, "value"), ""))
		}
		written := strings.Join(lines, "\r\n") + "\r\n"
		folded := feed.Fold([]byte(written))
		if got := strings.ReplaceAll(string(folded), "\r\n ", ""); got != written {
			t.Fatalf("unfolds to %q, want %q", got, written)
		}
		for phys := range bytes.SplitSeq(bytes.TrimSuffix(folded, []byte("\r\n")), []byte("\r\n")) {
			if len(phys) > 75 || !utf8.Valid(phys) {
				t.Fatalf("line %q: %d octets, valid %v", phys, len(phys), utf8.Valid(phys))
			}
			if tail := len(phys) - len(bytes.TrimRight(phys, `\`)); tail%2 == 1 {
				t.Fatalf("line %q ends inside an escape", phys)
			}
		}
		if _, err := feed.Unfold(folded); err != nil {
			t.Fatalf("our own reader refuses it: %v", err)
		}
	})
}
