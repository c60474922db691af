package site

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
)

// PasswordCost is what one guess at a password takes: 19 MiB and two passes, the
// least that the OWASP password storage cheat sheet gives for Argon2id (from
// memory).
func PasswordCost() *argon2id.Params {
	return &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}
}

// The lengths of a password, in characters. The upper end keeps a form from
// being used to burn time.
const (
	passwordLeast = 10
	passwordMost  = 200
)

// HashPassword checks that a new password is long enough and returns the hash
// to keep, in Argon2id's usual text form. cost is what each guess at it will
// take; all but tests give [PasswordCost].
func HashPassword(password string, cost *argon2id.Params) (string, error) {
	if n := utf8.RuneCountInString(password); n < passwordLeast || n > passwordMost {
		return "", fmt.Errorf("password: %d characters; want %d to %d, for example four words in a row", n, passwordLeast, passwordMost)
	}
	h, err := argon2id.CreateHash(password, cost)
	if err != nil {
		return "", fmt.Errorf("password: %w", err)
	}
	return h, nil
}

// passwords checks passwords one after the other, so that a crowd of attempts
// costs time and not memory; how many may wait is bounded, so that it does not
// cost others their time.
type passwords struct {
	queue chan struct{} // those that wait, and the one whose turn it is
	turn  chan struct{}
	dummy string // stands in where there is no such name
}

// passwordsWait is how many attempts may wait for the one under way: a few
// seconds of checks on a small machine.
const passwordsWait = 20

// busyWait is when to come back to a full queue.
const busyWait = 5 * time.Second

// errBusy says that as many wait as may.
var errBusy = errors.New("too many passwords wait to be checked")

func newPasswords(cost *argon2id.Params) *passwords {
	return &passwords{queue: make(chan struct{}, passwordsWait+1), turn: make(chan struct{}, 1), dummy: dummyHash(cost)}
}

// dummyHash costs a guess what a real one does and is made without that cost,
// which would hold up every start: a hash of zeros, whose password nobody knows.
func dummyHash(c *argon2id.Params) string {
	zeros := func(n uint32) string { return base64.RawStdEncoding.EncodeToString(make([]byte, n)) }
	return fmt.Sprintf("$argon2id$v=19$m=%d,t=%d,p=%d$%s$%s", c.Memory, c.Iterations, c.Parallelism, zeros(c.SaltLength), zeros(c.KeyLength))
}

// matches reports whether a password belongs to a hash; against no hash it
// takes as long and says no. With an error the password was not checked.
func (p *passwords) matches(ctx context.Context, password, hash string) (bool, error) {
	select {
	case p.queue <- struct{}{}:
		defer func() { <-p.queue }()
	default:
		return false, errBusy
	}
	select {
	case p.turn <- struct{}{}:
		defer func() { <-p.turn }()
	case <-ctx.Done():
		return false, ctx.Err()
	}
	known := hash != ""
	if !known {
		hash = p.dummy
	}
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return false, fmt.Errorf("check a password: %w", err)
	}
	return ok && known, nil
}
