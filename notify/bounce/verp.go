package bounce

import (
	"bellbuoy/notify"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
)

// VERP makes a return address for each letter, so that a bounce names the
// letter even when it says nothing else, and signs it, so that nobody can mute
// a customer by inventing one: b+<letter>-<mac>@domain.
type VERP struct {
	domain string
	keys   atomic.Pointer[[][]byte] // the first signs, each is recognized
}

// NewVERP takes the mail domain that receives bounces, whose host accepts
// addresses with a "+", and a secret of at least 16 bytes. It knows the addresses
// that older secrets signed too.
func NewVERP(domain string, secret []byte, older ...[]byte) (*VERP, error) {
	if _, err := notify.CheckMailAddress("b@" + domain); err != nil {
		return nil, fmt.Errorf("bounce domain: %w", err)
	}
	v := &VERP{domain: strings.ToLower(domain)}
	return v, v.Use(secret, older...)
}

// Use changes the secrets, also while addresses are made and read.
func (v *VERP) Use(secret []byte, older ...[]byte) error {
	var keys [][]byte
	for _, s := range append([][]byte{secret}, older...) {
		if len(s) < 16 {
			return errors.New("bounce secret: want at least 16 random bytes")
		}
		keys = append(keys, verpMAC(s, "bellbuoy return address"))
	}
	v.keys.Store(&keys)
	return nil
}

// Address returns the letter's return address.
func (v *VERP) Address(letter int64) string {
	return fmt.Sprintf("b+%d-%s@%s", letter, tag((*v.keys.Load())[0], letter), v.domain)
}

// Message reads a return address. It answers only to those that it made.
// Upper and lower case are the same, as relays change them.
func (v *VERP) Message(address string) (letter int64, ok bool) {
	local, domain, _ := strings.Cut(strings.ToLower(strings.TrimSpace(address)), "@")
	said, plus := strings.CutPrefix(local, "b+")
	number, signed, dash := strings.Cut(said, "-")
	letter, err := strconv.ParseInt(number, 10, 64)
	if err != nil || !plus || !dash || letter <= 0 || domain != v.domain {
		return 0, false
	}
	ours := slices.ContainsFunc(*v.keys.Load(), func(key []byte) bool { return hmac.Equal([]byte(signed), []byte(tag(key, letter))) })
	return letter, ours && strconv.FormatInt(letter, 10) == number
}

// tag is the 80-bit signature of a letter's number in 16 characters.
func tag(key []byte, letter int64) string {
	sum := verpMAC(key, strconv.FormatInt(letter, 10))
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(sum[:10]))
}

func verpMAC(key []byte, said string) []byte {
	m := hmac.New(sha256.New, key)
	m.Write([]byte(said))
	return m.Sum(nil)
}
