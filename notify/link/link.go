package link

import (
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"strings"
	"sync/atomic"
)

// Purpose is what a link opens. Each purpose has a key of its own, so that
// a token for one is worth nothing for another.
type Purpose string

// The purposes of links.
const (
	PurposeFeed   Purpose = "feed"   // read a calendar feed
	PurposeMy     Purpose = "my"     // a customer's own pages
	PurposeStop   Purpose = "stop"   // stop the mails of one customer
	PurposeBounce Purpose = "bounce" // the return path of one letter
)

// Scope is the kind of thing that a link belongs to.
type Scope string

// The scopes of links.
const (
	ScopeBoat     Scope = "boat"
	ScopeCustomer Scope = "customer"
	ScopeDesk     Scope = "desk"
	ScopeLetter   Scope = "letter"
)

// scopeBytes gives each scope its byte within a token. Tokens out in the world
// hold these bytes: add to the list, never change it.
var scopeBytes = map[Scope]byte{ScopeBoat: 'b', ScopeCustomer: 'c', ScopeDesk: 'd', ScopeLetter: 'l'}

// Target says what a token opens: the subject (the ID of a boat, customer or
// letter; free for the desk) and the generation that it was issued under.
type Target struct {
	Scope      Scope
	Subject    string
	Generation int
}

// Status is how a link that is truly ours stands against the generation
// on file.
type Status int

// The states of a link.
const (
	// Current opens what it names.
	Current Status = iota
	// Revoked was good once and was withdrawn: 410 to a feed's client,
	// which then stops asking.
	Revoked
	// Unknown names a generation that is not on file, as after going
	// back to an older backup: 404, so that clients keep what they have.
	Unknown
)

// Status compares the link with the generation on file.
func (a Target) Status(onFile int) Status {
	switch {
	case a.Generation == onFile:
		return Current
	case a.Generation < onFile:
		return Revoked
	}
	return Unknown
}

const (
	macBytes     = 16  // 128 bits: not to be guessed, and short enough for a mail's return path
	subjectBytes = 255 // longest subject
)

// MinSecret is the least length in bytes of the secret that links are
// made with.
const MinSecret = 32

// tokenText writes tokens in lower-case letters and digits: they survive mail
// hosts that change the case of a return path, and are one word to select.
var tokenText = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// Maker makes and reads the tokens of links. A token is an id with a
// MAC over it and over a generation number: nothing about it is stored, and
// raising the generation on file revokes it. A token shows the ID of its
// subject and nothing else; it opens only its own purpose.
type Maker struct {
	keys atomic.Pointer[[]keys] // the first makes tokens, each reads them
}

// keys are those of all purposes, out of one secret.
type keys map[Purpose][]byte

// NewMaker derives the keys of all purposes from the shop's secret, random
// bytes that never leave its file, and reads tokens made with older ones too. A
// secret shorter than [MinSecret] is refused.
func NewMaker(secret []byte, older ...[]byte) (*Maker, error) {
	a := &Maker{}
	return a, a.Use(secret, older...)
}

// Use changes the secrets, also while tokens are made and read.
func (a *Maker) Use(secret []byte, older ...[]byte) error {
	var all []keys
	for _, s := range append([][]byte{secret}, older...) {
		k, err := keysOf(s)
		if err != nil {
			return err
		}
		all = append(all, k)
	}
	a.keys.Store(&all)
	return nil
}

func keysOf(secret []byte) (keys, error) {
	if len(secret) < MinSecret {
		return nil, fmt.Errorf("addresses: the secret has %d bytes; want at least %d random ones", len(secret), MinSecret)
	}
	all := make(keys)
	for _, p := range []Purpose{PurposeFeed, PurposeMy, PurposeStop, PurposeBounce} {
		key, err := hkdf.Key(sha256.New, secret, nil, "bellbuoy address 1 "+string(p), sha256.Size)
		if err != nil {
			return nil, fmt.Errorf("addresses: key for %q: %w", p, err)
		}
		all[p] = key
	}
	return all, nil
}

// Token writes the token of a link for a purpose: lower-case letters and
// digits, the same for the same link every time. With a ten-character
// subject it is 45 long. It fails on an unknown purpose or scope, a negative
// generation, and a subject over 255 bytes.
func (a *Maker) Token(p Purpose, to Target) (string, error) {
	key, known := (*a.keys.Load())[0][p]
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
// for whatever was not made by Token with one of the secrets and the same
// purpose; it does not say why. The caller then compares generations with [Target.Status].
func (a *Maker) Parse(p Purpose, token string) (Target, bool) {
	if len(token) > tokenText.EncodedLen(1+binary.MaxVarintLen64+subjectBytes+macBytes) {
		return Target{}, false
	}
	token = strings.ToLower(token)
	raw, err := tokenText.DecodeString(token)
	// The last letter has spare bits: only the spelling that Token uses counts.
	if err != nil || len(raw) < macBytes+2 || tokenText.EncodeToString(raw) != token {
		return Target{}, false
	}
	said, mac := raw[:len(raw)-macBytes], raw[len(raw)-macBytes:]
	for _, k := range *a.keys.Load() {
		if key, known := k[p]; known && hmac.Equal(mac, addressMAC(key, said)) {
			return readAddress(said)
		}
	}
	return Target{}, false
}

// readAddress takes apart what a token says once its MAC has been found good.
func readAddress(said []byte) (Target, bool) {
	generation, n := binary.Uvarint(said[1:])
	if n <= 0 {
		return Target{}, false
	}
	for scope, b := range scopeBytes {
		if b == said[0] {
			return Target{Scope: scope, Subject: string(said[1+n:]), Generation: int(generation)}, true
		}
	}
	return Target{}, false
}

func addressMAC(key, said []byte) []byte {
	h := hmac.New(sha256.New, key)
	h.Write(said)
	return h.Sum(nil)[:macBytes]
}
