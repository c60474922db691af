package notify

import (
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"strings"
)

// Purpose is what an address opens. Each purpose has a key of its own, so that
// a token for one is worth nothing for another.
type Purpose string

// The purposes of addresses.
const (
	PurposeFeed   Purpose = "feed"   // read a calendar feed
	PurposeMy     Purpose = "my"     // a customer's own pages
	PurposeStop   Purpose = "stop"   // stop the mails of one customer
	PurposeBounce Purpose = "bounce" // the return path of one letter
)

// Scope is the kind of thing that an address belongs to.
type Scope string

// The scopes of addresses.
const (
	ScopeBoat     Scope = "boat"
	ScopeCustomer Scope = "customer"
	ScopeDesk     Scope = "desk"
	ScopeLetter   Scope = "letter"
)

// scopeBytes gives each scope its byte within a token. Tokens out in the world
// hold these bytes: add to the list, never change it.
var scopeBytes = map[Scope]byte{ScopeBoat: 'b', ScopeCustomer: 'c', ScopeDesk: 'd', ScopeLetter: 'l'}

// Address says what a token opens: the subject (the ID of a boat, customer or
// letter; free for the desk) and the generation that it was issued under.
type Address struct {
	Scope      Scope
	Subject    string
	Generation int
}

// Standing is how an address that is truly ours stands against the generation
// on file.
type Standing int

// The standings of an address.
const (
	// AddressCurrent opens what it names.
	AddressCurrent Standing = iota
	// AddressRevoked was good once and was withdrawn: 410 to a feed's client,
	// which then stops asking.
	AddressRevoked
	// AddressUnknown names a generation that is not on file, as after going
	// back to an older backup: 404, so that clients keep what they have.
	AddressUnknown
)

// Standing compares the address with the generation on file.
func (a Address) Standing(onFile int) Standing {
	switch {
	case a.Generation == onFile:
		return AddressCurrent
	case a.Generation < onFile:
		return AddressRevoked
	}
	return AddressUnknown
}

const (
	macBytes     = 16  // 128 bits: not to be guessed, and short enough for a mail's return path
	subjectBytes = 255 // longest subject
)

// LeastSecret is the least length in bytes of the secret that addresses are
// made with.
const LeastSecret = 32

// tokenText writes tokens in lower-case letters and digits: they survive mail
// hosts that change the case of a return path, and are one word to select.
var tokenText = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// Addresses makes and reads the tokens of addresses. A token is an id with a
// MAC over it and over a generation number: nothing about it is stored, and
// raising the generation on file revokes it. A token shows the ID of its
// subject and nothing else; it opens only its own purpose.
type Addresses struct {
	keys map[Purpose][]byte
}

// NewAddresses derives the keys of all purposes from the shop's secret, random
// bytes that never leave its file. A secret shorter than [LeastSecret] is
// refused.
func NewAddresses(secret []byte) (*Addresses, error) {
	if len(secret) < LeastSecret {
		return nil, fmt.Errorf("addresses: the secret has %d bytes; want at least %d random ones", len(secret), LeastSecret)
	}
	a := &Addresses{keys: make(map[Purpose][]byte)}
	for _, p := range []Purpose{PurposeFeed, PurposeMy, PurposeStop, PurposeBounce} {
		key, err := hkdf.Key(sha256.New, secret, nil, "bellbuoy address 1 "+string(p), sha256.Size)
		if err != nil {
			return nil, fmt.Errorf("addresses: key for %q: %w", p, err)
		}
		a.keys[p] = key
	}
	return a, nil
}

// Token writes the token of an address for a purpose: lower-case letters and
// digits, the same for the same address every time. With a ten-character
// subject it is 45 long. It fails on an unknown purpose or scope, a negative
// generation, and a subject over 255 bytes.
func (a *Addresses) Token(p Purpose, to Address) (string, error) {
	key, known := a.keys[p]
	scope, okay := scopeBytes[to.Scope]
	switch {
	case !known:
		return "", fmt.Errorf("address: purpose %q is not one of feed, my, stop, bounce", p)
	case !okay:
		return "", fmt.Errorf("address: scope %q is not one of boat, customer, desk, letter", to.Scope)
	case to.Generation < 0:
		return "", fmt.Errorf("address of %s %q: generation %d; generations count from 0", to.Scope, to.Subject, to.Generation)
	case len(to.Subject) > subjectBytes:
		return "", fmt.Errorf("address of %s %.20q...: the id has %d bytes; at most %d go into an address", to.Scope, to.Subject, len(to.Subject), subjectBytes)
	}
	raw := binary.AppendUvarint([]byte{scope}, uint64(to.Generation))
	raw = append(raw, to.Subject...)
	return tokenText.EncodeToString(append(raw, addressMAC(key, raw)...)), nil
}

// Parse reads a token for a purpose, in any case of letters. It reports false
// for whatever was not made by Token with the same secret and purpose; it does
// not say why. The caller then compares generations with [Address.Standing].
func (a *Addresses) Parse(p Purpose, token string) (Address, bool) {
	key, known := a.keys[p]
	if !known || len(token) > tokenText.EncodedLen(1+binary.MaxVarintLen64+subjectBytes+macBytes) {
		return Address{}, false
	}
	token = strings.ToLower(token)
	raw, err := tokenText.DecodeString(token)
	// The last letter has spare bits: only the spelling that Token uses counts.
	if err != nil || len(raw) < macBytes+2 || tokenText.EncodeToString(raw) != token {
		return Address{}, false
	}
	said, mac := raw[:len(raw)-macBytes], raw[len(raw)-macBytes:]
	if !hmac.Equal(mac, addressMAC(key, said)) {
		return Address{}, false
	}
	return readAddress(said)
}

// readAddress takes apart what a token says once its MAC has been found good.
func readAddress(said []byte) (Address, bool) {
	generation, n := binary.Uvarint(said[1:])
	if n <= 0 {
		return Address{}, false
	}
	for scope, b := range scopeBytes {
		if b == said[0] {
			return Address{Scope: scope, Subject: string(said[1+n:]), Generation: int(generation)}, true
		}
	}
	return Address{}, false
}

func addressMAC(key, said []byte) []byte {
	h := hmac.New(sha256.New, key)
	h.Write(said)
	return h.Sum(nil)[:macBytes]
}
