package bounce_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/notify/bounce"
)

func TestReplies(t *testing.T) {
	const head = "From: Asa Lindqvist <asa@mail.example>\nTo: service@kettlecove.example\nIn-Reply-To: <abc@kettlecove.example>\n"
	for name, c := range map[string]struct {
		message string
		stop    bool
	}{
		"the word as subject":         {head + "Subject: STOP\n\n", true},
		"a mail program's own":        {head + "Subject: Unsubscribe\n\nThis message was sent by the program.\n", true},
		"the word as first line":      {head + "Subject: Re: Wren: winterization\n\n\nStop.\n\n> Hello Asa,\n", true},
		"the word in French":          {head + "Subject: RÉP : Wren : hivernage\n\nArrêtez!\n", true},
		"as a French subject":         {head + "Subject: ARRET\n\n", true},
		"French in a sentence":        {head + "Subject: Re: Wren\n\nArrêtez-vous au quai vendredi.\n", false},
		"the word in HTML":            {head + "Subject: Re: Wren\nContent-Type: text/html\n\n<div>\n<p>Please stop!</p>\n</div>", true},
		"line ends of the old kind":   {strings.ReplaceAll(head+"Subject: Re: Wren\n\nstop\n", "\n", "\r"), true},
		"the word in a sentence":      {head + "Subject: Re: Wren\n\nStop by on Friday, please.\n", false},
		"the word only in the quote":  {head + "Subject: Re: Wren\n\nThanks!\n> stop\n", false},
		"a subject that begins so":    {head + "Subject: Stop solenoid\n\nIt clicks.\n", false},
		"nothing at all":              {"", false},
		"a header that does not part": {"From asa\nSubject stop", false},
	} {
		t.Run(name, func(t *testing.T) {
			r := bounce.ParseReply([]byte(c.message), nil)
			if r.Stop != c.stop {
				t.Errorf("stop is %t", r.Stop)
			}
			if strings.HasPrefix(c.message, "From: ") && (r.From != "asa@mail.example" || !slices.Equal(r.Answers, []string{"abc@kettlecove.example"})) {
				t.Errorf("%+v", r)
			}
		})
	}
}

func FuzzParseReply(f *testing.F) {
	f.Add([]byte("From: a@b.example\r\nSubject: stop\r\n\r\nstop"))
	f.Add([]byte("References: <a><b\n\n<<<>"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r := bounce.ParseReply(data, nil)
		for _, s := range append(r.Answers, r.From) {
			if strings.ContainsAny(s, " \r\n<>") {
				t.Fatalf("%q", s)
			}
		}
	})
}
