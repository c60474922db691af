package bounce_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/notify"
	"bellbuoy/notify/bounce"
)

// TestBounces reads one file of each kind. rfc3464-simple.eml is the first example
// of RFC 3464 (appendix E.1), given up after five days; the other reports follow the examples of
// RFC 3464 appendix E, RFC 5965 appendix B and RFC 6591 in shape and fields. All are written from
// memory with our own names; the bounces in words follow the layouts that
// common mail servers use (from memory too). exim-unknown.eml is what Exim 4.96
// of Debian 12 sent back, the letter in it cut short.
func TestBounces(t *testing.T) {
	want := map[string]bounce.Bounce{
		"rfc3464-simple.eml":         {Kind: bounce.Soft, Recipient: "louisl@larry.example", Status: "4.0.0", Code: 426, Diagnostic: "426 connection timed out", MessageID: "6fcb24432f0a5a2bedadcdfb@kettlecove.example"},
		"dead-domain.eml":            {Kind: bounce.Dead, Recipient: "asa@gone.example", Status: "5.4.4", Diagnostic: "Host or domain name not found. Name service error for name=gone.example type=AAAA: Host not found"},
		"relay-in-its-own-words.eml": {Kind: bounce.Policy, Recipient: "asa@mail.example", Status: "5.7.1", Code: 550, Diagnostic: "550 5.1.1 Remote server returned an error -> 550 5.7.1 message blocked by policy of 64.5.1.1"},
		"undeclared-boundary.eml":    {Kind: bounce.Dead, Recipient: "asa@mail.example", Status: "5.1.1", Code: 550, Diagnostic: "550 5.1.1 user unknown"},
		"junk-mail-report.eml":       {Kind: bounce.Complaint, Recipient: "user@mail.example", Diagnostic: "junk mail report", MessageID: "8787KJKJ3K4J3K4J3K4J3.mail@example.net"},
		"rfc6591-auth-failure.eml":   {Kind: bounce.Notice, Recipient: "user@example.com", Diagnostic: "auth-failure", MessageID: "8787KJKJ3K4J3K4J3K4J3.mail@example.net"},
		"rfc6430-not-spam.eml":       {Kind: bounce.Notice, Recipient: "user@example.com", Diagnostic: "not-spam", MessageID: "8787KJKJ3K4J3K4J3K4J3.mail@example.net"},
		"smtp-unknown.eml":           {Kind: bounce.Dead, Recipient: "louisl@larry.example", Status: "5.1.1", Code: 550, Diagnostic: "550 5.1.1 'louisl' is not a registered gateway user", MessageID: "6fcb24432f0a5a2bedadcdfb@kettlecove.example"},
		"rfc3464-delayed.eml":        {Kind: bounce.Delayed, Recipient: "newsletter-request@example.net", Status: "4.0.0", MessageID: ""},
		"rfc3464-two.eml":            {Kind: bounce.Dead, Recipient: "arathib@vnet.example", Status: "5.1.1", Code: 550, Diagnostic: "550 no such user", MessageID: ""},
		"rfc3464-gateway.eml":        {Kind: bounce.Unclear, Recipient: "nair_s@vnet.example", Status: "5.0.0", Diagnostic: "Mail could not be passed on"},
		"full.eml":                   {Kind: bounce.Soft, Recipient: "asa@mail.example", Status: "5.2.2", Code: 552, Diagnostic: "552 5.2.2 mailbox over quota", MessageID: "abc123@kettlecove.example"},
		"policy.eml":                 {Kind: bounce.Ours, Recipient: "asa@mail.example", Status: "5.7.26", Code: 550, Diagnostic: "550-5.7.26 unauthenticated mail is not accepted: neither SPF nor DKIM passed", MessageID: "abc123@kettlecove.example"},
		"gave-up.eml":                {Kind: bounce.Soft, Recipient: "asa@mail.example", Status: "4.4.1", Diagnostic: "connect to mail.example[192.0.2.1]:25: Connection timed out"},
		"no-final-boundary.eml":      {Kind: bounce.Dead, Recipient: "asa@mail.example", Status: "5.1.1", Code: 550, Diagnostic: "550 5.1.1 user unknown"},
		"cr-only.eml":                {Kind: bounce.Dead, Recipient: "asa@mail.example", Status: "5.1.1", Code: 550, Diagnostic: "550 5.1.1 user unknown"},
		"base64-report.eml":          {Kind: bounce.Dead, Recipient: "asa@mail.example", Status: "5.1.1", Code: 550, Diagnostic: "550 5.1.1 user unknown"},
		"delivered.eml":              {Kind: bounce.Delivered, Recipient: "asa@mail.example", Status: "2.0.0", Code: 0, Diagnostic: "250 2.0.0 ok"},
		"exim-unknown.eml":           {Kind: bounce.Dead, Recipient: "nobody@mail.example", Status: "5.0.0", Diagnostic: "nobody@mail.example no such user here", MessageID: "3593e3805073c02e5cfc3a53@kettlecove.example"},
		"plain-queue.eml":            {Kind: bounce.Dead, Recipient: "asa@mail.example", Status: "5.1.1", Code: 550, Diagnostic: "Remote host said: 550 5.1.1 no such user (in reply to RCPT TO)", MessageID: "abc123@kettlecove.example"},
		"plain-following.eml":        {Kind: bounce.Dead, Recipient: "asa@mail.example", Code: 550, Diagnostic: "host mx.mail.example [192.0.2.1]: 550 Unrouteable address, unknown user"},
		"plain-german.eml":           {Kind: bounce.Dead, Recipient: "asa@mail.example", Status: "5.1.1", Code: 550, Diagnostic: "550 5.1.1 <asa@mail.example>: unbekannt"},
		"plain-warning.eml":          {Kind: bounce.Delayed, Recipient: "asa@mail.example", Status: "4.4.1", Code: 451, Diagnostic: "451 4.4.1 no answer from host"},
		"rfc5965-minimal.eml":        {Kind: bounce.Complaint, Recipient: "", Diagnostic: "abuse", MessageID: "8787KJKJ3K4J3K4J3K4J3.mail@example.net"},
		"rfc5965-full.eml":           {Kind: bounce.Complaint, Recipient: "user@example.com", Diagnostic: "abuse", MessageID: "8787KJKJ3K4J3K4J3K4J3.mail@example.net"},
		"auto-reply.eml":             {Kind: bounce.AutoReply},
		"out-of-office.eml":          {Kind: bounce.AutoReply},
		"read-receipt.eml":           {Kind: bounce.AutoReply, MessageID: ""},
		"person.eml":                 {},
		"person-about-return.eml":    {},
	}
	files, err := filepath.Glob("testdata/bounces/*.eml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no bounces to read (%v)", err)
	}
	seen := map[string]bool{}
	for _, path := range files {
		name := filepath.Base(path)
		seen[name] = true
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			w, ok := want[name]
			if !ok {
				t.Fatal("nobody says what this is")
			}
			got, err := bounce.Parse(data)
			if w.Kind == "" {
				if !errors.Is(err, bounce.ErrNotBounce) {
					t.Fatalf("got %+v, %v; want it left for a person", got, err)
				}
				return
			}
			got.To = nil
			if err != nil || got.Kind != w.Kind || got.Recipient != w.Recipient || got.Status != w.Status || got.Code != w.Code || got.Diagnostic != w.Diagnostic || got.MessageID != w.MessageID {
				t.Errorf("%v\ngot  %+v\nwant %+v", err, got, w)
			}
		})
	}
	for name := range want {
		if !seen[name] {
			t.Errorf("%s is missing", name)
		}
	}
}

func TestOnlyDeathAndComplaintSuppress(t *testing.T) {
	for kind, want := range map[bounce.Kind]bool{
		bounce.Dead: true, bounce.Complaint: true, bounce.Soft: false, bounce.Ours: false,
		bounce.Unclear: false, bounce.Delayed: false, bounce.Delivered: false, bounce.AutoReply: false,
	} {
		if b := (bounce.Bounce{Kind: kind}); b.Suppress() != want {
			t.Errorf("%s: suppress is %t", kind, !want)
		}
	}
}

func TestBounceFindsItsLetter(t *testing.T) {
	v, err := bounce.NewVERP("bounce.kettlecove.example", []byte("0123456789abcdef"))
	if err != nil {
		t.Fatal(err)
	}
	raw := "To: " + strings.ToUpper(v.Address(4711)) + "\r\nFrom: MAILER-DAEMON@mail.example\r\nSubject: Undelivered mail\r\n\r\n<asa@mail.example>: 550 5.1.1 unknown\r\n"
	b, err := bounce.Parse([]byte(raw))
	if err != nil || !b.Suppress() {
		t.Fatalf("%+v, %v", b, err)
	}
	i := slices.IndexFunc(b.To, func(a string) bool { id, ok := v.Message(a); return ok && id == 4711 })
	if i < 0 {
		t.Errorf("letter 4711 is not among %q", b.To)
	}
}

// TestVERPKnowsOlderSecrets: a letter that went out before the key was renewed
// still comes back to it.
func TestVERPKnowsOlderSecrets(t *testing.T) {
	first, second := []byte("0123456789abcdef"), []byte("fedcba9876543210")
	v, err := bounce.NewVERP("bounce.example", first)
	if err != nil {
		t.Fatal(err)
	}
	old := v.Address(7)
	if err := v.Use(second, first); err != nil {
		t.Fatal(err)
	}
	if id, ok := v.Message(old); !ok || id != 7 || v.Address(7) == old {
		t.Errorf("%s is read as %d, %v; the next one is %s", old, id, ok, v.Address(7))
	}
	if err := v.Use(second); err != nil {
		t.Fatal(err)
	}
	if _, ok := v.Message(old); ok {
		t.Error("a secret that is named no more still counts")
	}
}

func TestVERP(t *testing.T) {
	v, err := bounce.NewVERP("Bounce.Example", []byte("0123456789abcdef"))
	if err != nil {
		t.Fatal(err)
	}
	other, err := bounce.NewVERP("bounce.example", []byte("fedcba9876543210"))
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.Int64Range(1, 1<<62).Draw(t, "id")
		a := v.Address(id)
		if got, ok := v.Message(a); !ok || got != id {
			t.Fatalf("%s is read as %d, %t", a, got, ok)
		}
		if _, ok := other.Message(a); ok {
			t.Fatalf("another shop takes %s", a)
		}
		if _, err := notify.CheckMailAddress(a); err != nil {
			t.Fatalf("%s: %v", a, err)
		}
		i := rapid.IntRange(0, len(a)-1).Draw(t, "at")
		c := rapid.SampledFrom([]byte("0123456789abcdefz-+@.")).Draw(t, "char")
		if forged := a[:i] + string(c) + a[i+1:]; forged != a {
			if got, ok := v.Message(forged); ok && !strings.EqualFold(forged, a) {
				t.Fatalf("%s is taken for letter %d", forged, got)
			}
		}
	})
	for _, bad := range []string{"", "b+1-@bounce.example", "b+01-x@bounce.example", "b+-1-x@bounce.example", "b+1@bounce.example", "x@y"} {
		if _, ok := v.Message(bad); ok {
			t.Errorf("%q was taken", bad)
		}
	}
	if _, err := bounce.NewVERP("bounce.example", []byte("short")); err == nil {
		t.Error("a short secret was taken")
	}
	if _, err := bounce.NewVERP("no domain", []byte("0123456789abcdef")); err == nil {
		t.Error("a bad domain was taken")
	}
}

// TestLettersOutsideUTF8: a message whose Content-Type, or whose line about an
// attendee, has bytes that are no UTF-8 before what is looked for is read like any
// other; small letters of such a text are longer than the text.
func TestLettersOutsideUTF8(t *testing.T) {
	odd := strings.Repeat("\xbb", 20)
	for name, message := range map[string]string{
		"a boundary":   "Content-Type: multipart/mixed;" + odd + " boundary=x\r\n\r\n--x\r\nContent-Type: text/plain\r\n\r\nhello\r\n--x--\r\n",
		"an attendee":  "Content-Type: text/calendar\r\n\r\nBEGIN:VCALENDAR\r\nMETHOD:REPLY\r\nUID:1\r\nATTENDEE;PARTSTAT=ACCEPTED;CN=" + odd + ":mailto:a@b.example\r\n",
		"a short line": "Content-Type: text/calendar\r\n\r\nATTENDEE:" + odd + "mailto:",
	} {
		if _, err := bounce.Parse([]byte(message)); !errors.Is(err, bounce.ErrNotBounce) {
			t.Errorf("%s: %v", name, err)
		}
		reply, ok := bounce.ParseCalendarReply([]byte(message))
		if want := name == "an attendee"; ok != want || ok && (reply.Attendee != "a@b.example" || reply.Answer != "ACCEPTED") {
			t.Errorf("%s: %+v, %v", name, reply, ok)
		}
	}
}

func FuzzParseBounce(f *testing.F) {
	files, err := filepath.Glob("testdata/bounces/*.eml")
	if err != nil || len(files) == 0 {
		f.Fatalf("no bounces to start from (%v)", err)
	}
	for _, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte("Content-Type: multipart/report; boundary=\"\r\n\r\n--\r\n--"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := bounce.Parse(data)
		if err != nil {
			if !errors.Is(err, bounce.ErrNotBounce) || b.Kind != "" {
				t.Fatalf("%+v, %v", b, err)
			}
			return
		}
		if b.Kind == "" {
			t.Fatal("a bounce of no kind")
		}
		if strings.ContainsAny(b.Recipient+b.Status+b.Diagnostic, "\r\n") {
			t.Fatalf("a line end in %+v", b)
		}
		again, err := bounce.Parse(data)
		if err != nil || again.Kind != b.Kind || again.Recipient != b.Recipient {
			t.Fatalf("read twice: %+v, then %+v", b, again)
		}
	})
}
