package site

import (
	"crypto/sha256"
	"encoding/hex"
	"net/url"
	"strings"
)

// keyPaths are the places whose next part of the path is its own key.
var keyPaths = []string{"cal", "my", "stop"}

// keyLetters is a run of letters and digits as long as the shortest token; no
// other part of our paths has one.
const keyLetters = 26

// scrubPath takes what opens a door out of a path, for logs: every part after
// /cal/, /my/ and /stop/, and anything else that looks like a token. In its
// place stands "~" and eight digits of its hash, by which lines of the same
// visitor can be told and nothing can be opened. The path may be escaped or
// not, and may have a query.
func scrubPath(path string) string {
	path, query, asked := strings.Cut(path, "?")
	parts := strings.Split(path, "/")
	after := ""
	for i, p := range parts {
		plain, err := url.PathUnescape(p)
		if err != nil {
			plain = p
		}
		if plain == "" {
			continue
		}
		if err != nil || isKeyPath(after) || looksLikeKey(plain) {
			parts[i] = scrubbed(plain)
		}
		after = plain
	}
	out := strings.Join(parts, "/")
	if asked && query != "" {
		out += "?" + scrubbed(query) // no page of ours needs its query in a log
	}
	return out
}

func isKeyPath(part string) bool {
	for _, k := range keyPaths {
		if strings.EqualFold(part, k) {
			return true
		}
	}
	return false
}

func looksLikeKey(part string) bool {
	run := 0
	for _, r := range part {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '2' && r <= '7' {
			run++
		} else {
			run = 0
		}
		if run >= keyLetters {
			return true
		}
	}
	return false
}

func scrubbed(key string) string {
	sum := sha256.Sum256([]byte(strings.ToLower(strings.TrimSuffix(key, ".ics"))))
	return "~" + hex.EncodeToString(sum[:4])
}
