package site

import (
	"crypto/rand"
	"encoding/base64"
	"net/http"
	"strings"
	"time"
)

// noteName names the cookie that carries a sentence over one redirect.
const noteName = "bellbuoy_note"

// noteMost is the most bytes that a cookie takes along: browsers drop one of more
// than 4096 (RFC 6265 section 6.1), and base64 makes four of three.
const noteMost = 2800

// noteCookie carries sentences to the next page, as many as a cookie takes; the
// empty one ends it.
func (s *Site) noteCookie(words string) *http.Cookie {
	if len(words) > noteMost {
		words = words[:strings.LastIndex(words[:noteMost], ". ")+1] + " And more: the boat's page shows its plan."
	}
	lasts := time.Minute
	if words == "" {
		lasts = 0
	}
	return s.cookie(noteName, base64.RawURLEncoding.EncodeToString([]byte(words)), lasts)
}

// noteOf reads the sentence that a request carries, "" for none.
func NoteOf(r *http.Request) string {
	c, err := r.Cookie(noteName)
	if err != nil {
		return ""
	}
	words, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil {
		return ""
	}
	return string(words)
}

// newForm names a form, so that the store can tell when it is sent twice.
func NewForm() string { return rand.Text() }
