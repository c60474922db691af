package bounce

import (
	"bellbuoy/notify"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// VERP makes a return address for each letter, so that a bounce names the
// letter even when it says nothing else, and signs it, so that nobody can mute
// a customer by inventing one: b+<letter>-<mac>@domain.
type VERP struct {
	domain string
	key    []byte
}

// NewVERP takes the mail domain that receives bounces, whose host accepts
// addresses with a "+", and a secret of at least 16 bytes.
func NewVERP(domain string, secret []byte) (*VERP, error) {
	if _, err := notify.CheckMailAddress("b@" + domain); err != nil {
		return nil, fmt.Errorf("bounce domain: %w", err)
	}
	if len(secret) < 16 {
		return nil, errors.New("bounce secret: want at least 16 random bytes")
	}
	return &VERP{domain: strings.ToLower(domain), key: verpMAC(secret, "bellbuoy return address")}, nil
}

// Address returns the letter's return address.
func (v *VERP) Address(letter int64) string {
	return fmt.Sprintf("b+%d-%s@%s", letter, v.tag(letter), v.domain)
}

// Message reads a return address. It answers only to those that it made.
// Upper and lower case are the same, as relays change them.
func (v *VERP) Message(address string) (letter int64, ok bool) {
	local, domain, _ := strings.Cut(strings.ToLower(strings.TrimSpace(address)), "@")
	said, plus := strings.CutPrefix(local, "b+")
	number, tag, dash := strings.Cut(said, "-")
	letter, err := strconv.ParseInt(number, 10, 64)
	if err != nil || !plus || !dash || letter <= 0 || domain != v.domain {
		return 0, false
	}
	return letter, hmac.Equal([]byte(tag), []byte(v.tag(letter))) && strconv.FormatInt(letter, 10) == number
}

// tag is the 80-bit signature of a letter's number in 16 characters.
func (v *VERP) tag(letter int64) string {
	sum := verpMAC(v.key, strconv.FormatInt(letter, 10))
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(sum[:10]))
}

func verpMAC(key []byte, said string) []byte {
	m := hmac.New(sha256.New, key)
	m.Write([]byte(said))
	return m.Sum(nil)
}
