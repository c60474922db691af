package notify_test

import (
	"net/mail"
	"strings"
	"testing"

	"bellbuoy/notify"
)

func TestMailAddresses(t *testing.T) {
	for in, want := range map[string]string{
		"asa@mail.example":                      "asa@mail.example",
		" asa@mail.example ":                    "asa@mail.example",
		"a.b+c_d'e@mail.example":                "a.b+c_d'e@mail.example",
		"asa@Bücher.example":                    "asa@xn--bcher-kva.example",
		"":                                      "",
		"asa":                                   "",
		"@mail.example":                         "",
		"åsa@mail.example":                      "",
		"\"a b\"@mail.example":                  "",
		"\"x@y> ORCPT=1\"@mail.example":         "",
		"a(b)@mail.example":                     "",
		"a@b":                                   "",
		"a@[127.0.0.1]":                         "",
		"a@-x.example":                          "",
		"a@mail.example.":                       "",
		"a@mail_x.example":                      "",
		"a@mail..example":                       "",
		"a@.mail.example":                       "",
		".a@mail.example":                       "",
		"a.@mail.example":                       "",
		"a..b@mail.example":                     "",
		"Åsa <asa@mail.example>":                "",
		"a@mail.example\r\nBcc: x@mail.example": "",
		strings.Repeat("a", 65) + "@mail.example":    "",
		"a@" + strings.Repeat("b.", 130) + "example": "",
	} {
		got, err := notify.CheckMailAddress(in)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: got %q, %v; want %q", in, got, err, want)
		}
	}
}

func FuzzMailAddress(f *testing.F) {
	for _, s := range []string{"asa@mail.example", "a@b", "\"x\"@y.example", "a@Bücher.example", "a@b.example\r\nX: y"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := notify.CheckMailAddress(s)
		if err != nil {
			return
		}
		for _, c := range []byte(got) {
			if c <= ' ' || c > '~' || strings.IndexByte(`"<>()[],;:\`, c) >= 0 {
				t.Fatalf("%q is taken as %q", s, got)
			}
		}
		a, err := mail.ParseAddress(got)
		if err != nil || a.Address != got {
			t.Fatalf("%q is taken as %q, which net/mail reads as %v, %v", s, got, a, err)
		}
		if again, err := notify.CheckMailAddress(got); err != nil || again != got {
			t.Fatalf("%q: checked again it is %q, %v", got, again, err)
		}
	})
}
