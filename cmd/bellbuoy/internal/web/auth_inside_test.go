package web

import (
	"testing"

	"github.com/alexedwards/argon2id"
)

// Who asks for a name that does not exist must wait as long as who asks for one
// that does, and never gets in.
func TestNoHashCostsWhatAHashCosts(t *testing.T) {
	p := newPasswords()
	got, salt, key, err := argon2id.DecodeHash(p.dummy)
	if err != nil {
		t.Fatal(err)
	}
	if want := cost(); *got != *want || len(salt) != int(want.SaltLength) || len(key) != int(want.KeyLength) {
		t.Errorf("a guess at nobody costs %+v, at somebody %+v", *got, *want)
	}
	if ok, err := p.matches(t.Context(), "nobody has this password", ""); ok || err != nil {
		t.Errorf("let in: %v, %v", ok, err)
	}
}
