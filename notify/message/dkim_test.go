package message_test

import (
	"bytes"
	"net/mail"
	"strings"
	"testing"

	"github.com/emersion/go-msgauth/dkim"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/message"
)

// TestSignaturesHold has another implementation verify every letter, also after
// a relay has refolded it, and refuse every tampering.
func TestSignaturesHold(t *testing.T) {
	for _, kind := range []string{"rsa", "ed25519"} {
		pemKey, record := fixture.DKIMKey(t, kind)
		key, err := message.NewDKIM("kettlecove.example", "s1", pemKey)
		if err != nil {
			t.Fatal(err)
		}
		verify := func(raw []byte) error {
			vs, err := dkim.VerifyWithOptions(bytes.NewReader(raw), &dkim.VerifyOptions{
				LookupTXT: func(name string) ([]string, error) {
					if name != "s1._domainkey.kettlecove.example" {
						t.Errorf("asked for the key at %q", name)
					}
					return []string{record}, nil
				},
			})
			if err != nil {
				return err
			}
			if len(vs) != 1 {
				t.Fatalf("%d signatures, want one", len(vs))
			}
			return vs[0].Err
		}
		r := fixture.Renderer(t, key)
		for name, n := range fixture.Cases(t) {
			l, err := r.Message(&n, fixture.Links)
			if err != nil {
				t.Fatal(err)
			}
			if again, err := r.Message(&n, fixture.Links); kind == "ed25519" && (err != nil || !bytes.Equal(again.Raw, l.Raw)) {
				t.Errorf("%s: signed twice, the bytes differ (%v)", name, err)
			}
			if err := verify(l.Raw); err != nil {
				t.Errorf("%s %s: %v", kind, name, err)
			}
			checkSigned(t, l.Raw)
			relayed := bytes.Replace(l.Raw, []byte("\r\nSubject: "), []byte("\r\nSubject:\r\n  "), 1)
			if err := verify(append([]byte("Received: from shop\r\n"), append(relayed, "\r\n\r\n"...)...)); err != nil {
				t.Errorf("%s %s, after a relay: %v", kind, name, err)
			}
			for what, forged := range map[string][]byte{
				"body":             bytes.Replace(l.Raw, []byte("Kettle"), []byte("Cattle"), 1+bytes.Count(l.Raw[:bytes.Index(l.Raw, []byte("\r\n\r\n"))], []byte("Kettle"))),
				"second From":      append([]byte("From: x@evil.example\r\n"), l.Raw...),
				"second Subject":   append([]byte("Subject: win\r\n"), l.Raw...),
				"List-Unsubscribe": bytes.Replace(l.Raw, []byte("/stop/"), []byte("/evil/"), 1),
			} {
				if !bytes.Equal(forged, l.Raw) && verify(forged) == nil {
					t.Errorf("%s %s: the signature holds although the %s was changed", kind, name, what)
				}
			}
		}
	}
}

// checkSigned asks for the fields of RFC 8058 section 4 and a date that is the
// letter's.
func checkSigned(t *testing.T, raw []byte) {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	sig := strings.Join(strings.Fields(m.Header.Get("DKIM-Signature")), "")
	for _, want := range []string{"c=relaxed/relaxed", "d=kettlecove.example", "s=s1", ":List-Unsubscribe:List-Unsubscribe-Post"} {
		if !strings.Contains(sig, want) {
			t.Errorf("the signature lacks %s: %s", want, sig)
		}
	}
}

func TestBadKeys(t *testing.T) {
	good, _ := fixture.DKIMKey(t, "ed25519")
	for name, err := range map[string]error{
		"no key":      second(message.NewDKIM("a.example", "s", []byte("nothing"))),
		"no domain":   second(message.NewDKIM("", "s", good)),
		"no selector": second(message.NewDKIM("a.example", "", good)),
	} {
		if err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func second[T any](_ T, err error) error { return err }
