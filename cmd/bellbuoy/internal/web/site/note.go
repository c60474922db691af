package site

import (
	"crypto/rand"
	"encoding/base64"
	"net/http"
	"time"
)

// noteName names the cookie that carries a sentence over one redirect.
const noteName = "bellbuoy_note"

// noteCookie carries a sentence to the next page; the empty one ends it.
func (s *Site) noteCookie(words string) *http.Cookie {
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
