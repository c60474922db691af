package bounce

import (
	"regexp"
	"slices"
	"strings"

	"bellbuoy/schedule/texts"
)

// Reply is a message that a person, or a mail program for them, wrote to the
// shop.
type Reply struct {
	From    string   // the bare address, "" if there is none
	To      []string // the addresses that it was delivered to; one may stop mails
	Answers []string // the message ids that it answers, without brackets
	First   string   // the first line of its own words, "" if it has none
	// Stop: all it says is that the mails shall stop. That proves nothing of
	// who says so: it counts if it came to an address that only the customer
	// knows, or if it answers a letter and comes from where that letter went.
	Stop bool
}

// ParseReply reads a message that is no bounce. Like [Parse] it never
// fails: what makes no sense is left out. The catalog has the words that stop the
// mails; a nil one has the built-in ones.
func ParseReply(message []byte, catalog *texts.Catalog) Reply {
	msg := scanPart(message, 0)
	r := Reply{From: addressPattern.FindString(msg.first("from")), To: recipientsOf(msg)}
	for _, name := range []string{"in-reply-to", "references"} {
		for _, m := range bracketedID.FindAllStringSubmatch(msg.first(name), 32) {
			r.Answers = append(r.Answers, m[1])
		}
	}
	r.First = firstWords(string(msg.text()))
	r.Stop = isStopWord(catalog, replyMark.ReplaceAllString(msg.first("subject"), "")) || isStopWord(catalog, r.First)
	return r
}

var (
	bracketedID = regexp.MustCompile(`<([^<>\s]{3,250})>`)
	replyMark   = regexp.MustCompile(`(?i)^(\s*(re|aw|sv|antw|rép|rep)\s*:)+`)
	htmlTag     = regexp.MustCompile(`<[^<>]*>`)
)

// firstWords is the first line of a text that is neither empty nor quoted.
func firstWords(text string) string {
	for line := range strings.SplitSeq(lfOnly([]byte(text)), "\n") {
		line = strings.TrimSpace(htmlTag.ReplaceAllString(line, ""))
		if line != "" && !strings.HasPrefix(line, ">") {
			return line
		}
	}
	return ""
}

// isStopWord knows the words by which people and mail programs end a mailing, in
// every language (common practice, no source). They must stand alone: "stop by on
// Friday" is for a person to read.
func isStopWord(catalog *texts.Catalog, s string) bool {
	s = strings.ToLower(strings.Trim(s, " \t.!\"'*_-"))
	return s != "" && slices.ContainsFunc(texts.Languages(), func(language string) bool {
		return slices.Contains(strings.Split(catalog.In(language).Say("reply.stop"), "; "), s)
	})
}
