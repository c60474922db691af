package link_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/notify/link"
)

var addressPurposes = []link.Purpose{link.PurposeFeed, link.PurposeMy, link.PurposeStop, link.PurposeBounce}

func addresses(t testing.TB, secret string) *link.Maker {
	t.Helper()
	a, err := link.NewMaker([]byte(strings.Repeat(secret, 32)))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestTokenIsReadBackForItsOwnPurposeOnly(t *testing.T) {
	a, other := addresses(t, "k"), addresses(t, "o")
	rapid.Check(t, func(t *rapid.T) {
		to := link.Target{
			Scope:      rapid.SampledFrom([]link.Scope{link.ScopeBoat, link.ScopeCustomer, link.ScopeDesk, link.ScopeLetter}).Draw(t, "scope"),
			Subject:    rapid.StringMatching(`[ -~]{0,60}|帆{0,20}`).Draw(t, "subject"),
			Generation: rapid.IntRange(0, 1<<40).Draw(t, "generation"),
		}
		purpose := rapid.SampledFrom(addressPurposes).Draw(t, "purpose")
		token, err := a.Token(purpose, to)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := a.Parse(purpose, token); !ok || got != to {
			t.Fatalf("%q reads as %+v, %v; want %+v", token, got, ok, to)
		}
		if got, ok := a.Parse(purpose, strings.ToUpper(token)); !ok || got != to {
			t.Fatalf("in capitals it reads as %+v, %v", got, ok)
		}
		for _, p := range addressPurposes {
			if _, ok := a.Parse(p, token); ok != (p == purpose) {
				t.Fatalf("a token to %s taken as one to %s: %v", purpose, p, ok)
			}
		}
		if _, ok := other.Parse(purpose, token); ok {
			t.Fatal("taken under another secret")
		}
		// Any one letter changed, and it is none of ours.
		i := rapid.IntRange(0, len(token)-1).Draw(t, "at")
		letter := rapid.SampledFrom(strings.Split("abcdefghijklmnopqrstuvwxyz234567", "")).Draw(t, "letter")
		if forged := token[:i] + letter + token[i+1:]; forged != token {
			if got, ok := a.Parse(purpose, forged); ok {
				t.Fatalf("%q, one letter from %q, reads as %+v", forged, token, got)
			}
		}
	})
}

func TestTokensAreShortAndPlain(t *testing.T) {
	a := addresses(t, "k")
	token, err := a.Token(link.PurposeBounce, link.Target{Scope: link.ScopeLetter, Subject: "1234567890", Generation: 1})
	if err != nil {
		t.Fatal(err)
	}
	// RFC 5321 4.5.3.1.1: a local part has at most 64 octets.
	if local := "bounce+" + token; len(local) > 64 || len(token) != 45 {
		t.Errorf("%q: %d letters as a return path, the token %d", local, len(local), len(token))
	}
	if strings.Trim(token, "abcdefghijklmnopqrstuvwxyz234567") != "" {
		t.Errorf("%q has other letters than small ones and digits", token)
	}
	again, err := a.Token(link.PurposeBounce, link.Target{Scope: link.ScopeLetter, Subject: "1234567890", Generation: 1})
	if err != nil || again != token {
		t.Errorf("the same address gives %q and %q, %v", token, again, err)
	}
}

// Tokens are out in the world: this one must be read for ever.
func TestAnOldTokenIsStillRead(t *testing.T) {
	const old = "mibueljrud7umnzcl64kuavfqslpgly4vq"
	got, ok := addresses(t, "k").Parse(link.PurposeFeed, old)
	if want := (link.Target{Scope: link.ScopeBoat, Subject: "B-1", Generation: 3}); !ok || got != want {
		now, _ := addresses(t, "k").Token(link.PurposeFeed, want)
		t.Errorf("%s reads as %+v, %v; want %+v, which is now written %s", old, got, ok, want, now)
	}
}

func TestStanding(t *testing.T) {
	for _, c := range []struct {
		name          string
		token, onFile int
		want          link.Status
	}{
		{"the one on file", 3, 3, link.Current},
		{"withdrawn", 2, 3, link.Revoked},
		{"from after the backup", 4, 3, link.Unknown},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := (link.Target{Generation: c.token}).Status(c.onFile); got != c.want {
				t.Errorf("got %d, want %d", got, c.want)
			}
		})
	}
}

func TestAddressesRefuse(t *testing.T) {
	if _, err := link.NewMaker(make([]byte, link.MinSecret-1)); err == nil {
		t.Error("a short secret is taken")
	}
	a := addresses(t, "k")
	for name, c := range map[string]struct {
		purpose link.Purpose
		to      link.Target
	}{
		"an unknown purpose":    {"read", link.Target{Scope: link.ScopeBoat}},
		"an unknown scope":      {link.PurposeFeed, link.Target{Scope: "fleet"}},
		"a generation before 0": {link.PurposeFeed, link.Target{Scope: link.ScopeBoat, Generation: -1}},
		"a subject out of hand": {link.PurposeFeed, link.Target{Scope: link.ScopeBoat, Subject: strings.Repeat("x", 256)}},
	} {
		t.Run(name, func(t *testing.T) {
			if token, err := a.Token(c.purpose, c.to); err == nil {
				t.Errorf("written as %q", token)
			}
		})
	}
	if _, ok := a.Parse("read", "aaaa"); ok {
		t.Error("read for an unknown purpose")
	}
}

func FuzzParseToken(f *testing.F) {
	a := addresses(f, "k")
	for _, p := range addressPurposes {
		token, err := a.Token(p, link.Target{Scope: link.ScopeCustomer, Subject: "C-17", Generation: 2})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(token)
	}
	f.Add("")
	f.Add("========")
	f.Add(strings.Repeat("a", 1000))
	f.Fuzz(func(t *testing.T, token string) {
		for _, p := range addressPurposes {
			got, ok := a.Parse(p, token)
			if !ok {
				continue
			}
			if back, err := a.Token(p, got); err != nil || back != strings.ToLower(token) {
				t.Errorf("%q reads as %+v, which is written %q: %v", token, got, back, err)
			}
		}
	})
}

// TestOlderSecretsAreRead: a token of an older secret opens what it did as long as
// that secret is named, new ones are made with the newest, and a secret that is
// named no more opens nothing.
func TestOlderSecretsAreRead(t *testing.T) {
	secret := func(s string) []byte { return []byte(strings.Repeat(s, 32)) }
	a := addresses(t, "1")
	to := link.Target{Scope: link.ScopeCustomer, Subject: "C1", Generation: 2}
	made := map[string]string{}
	for _, s := range []string{"1", "2", "3"} {
		older := map[string][][]byte{"1": nil, "2": {secret("1")}, "3": {secret("2")}}[s]
		if err := a.Use(secret(s), older...); err != nil {
			t.Fatal(err)
		}
		token, err := a.Token(link.PurposeMy, to)
		if err != nil {
			t.Fatal(err)
		}
		made[s] = token
		for by, token := range made {
			got, ours := a.Parse(link.PurposeMy, token)
			if want := by == s || len(older) > 0 && by == string(older[0][0]); ours != want || ours && got != to {
				t.Errorf("with secret %s: a token of secret %s opens %+v, %v; want %v", s, by, got, ours, want)
			}
			if _, ours := a.Parse(link.PurposeFeed, token); ours {
				t.Errorf("with secret %s: a token of secret %s opens what it is not for", s, by)
			}
		}
	}
	if err := a.Use([]byte("short")); err == nil {
		t.Error("a short secret is taken")
	}
	if err := a.Use(secret("4"), []byte("short")); err == nil {
		t.Error("a short older secret is taken")
	}
	if _, ours := a.Parse(link.PurposeMy, made["3"]); !ours {
		t.Error("what was refused changed the secrets")
	}
}
