package message_test

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"testing"
	"time"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule/testkit"
)

// mostSpam is the score that a letter may have; a filter's usual limit is 5.
const mostSpam = 0.5

// TestASpamFilterHasNothingAgainstTheLetters scores a letter of every step with
// a spam filter, offline: by its rules about the text alone. The letters
// have no Received line, without which it compares no date with its clock.
func TestASpamFilterHasNothingAgainstTheLetters(t *testing.T) {
	filter, err := exec.LookPath("spamassassin")
	testkit.Needs(t, err == nil, "spamassassin")
	cases := fixture.Cases(t)
	names := slices.Sorted(maps.Keys(cases))
	if len(names) < 13 {
		t.Fatalf("only %d letters", len(names))
	}
	r := fixture.Renderer(t, nil)
	var box bytes.Buffer
	for _, name := range names {
		n := cases[name]
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&box, "From service@kettlecove.example %s\n", n.At.Add(time.Minute).UTC().Format(time.ANSIC))
		box.Write(bytes.ReplaceAll(l.Raw, []byte("\r\n"), []byte("\n")))
		box.WriteString("\n")
	}
	home := t.TempDir() // it keeps what it learns there
	cmd := exec.CommandContext(t.Context(), filter, "-L", "-t", "--mbox")
	cmd.Env = append(os.Environ(), "HOME="+home)
	cmd.Stdin = &box
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	scores := regexp.MustCompile(`(?m)^X-Spam-Status: \w+, score=(-?[\d.]+)(?s:.*?)tests=((?s:.*?)) autolearn`).FindAllSubmatch(out, -1)
	if len(scores) != len(names) {
		t.Fatalf("%d scores of %d letters", len(scores), len(names))
	}
	for i, m := range scores {
		score, err := strconv.ParseFloat(string(m[1]), 64)
		if err != nil || score > mostSpam {
			t.Errorf("%s scores %s: %s", names[i], m[1], m[2])
		}
	}
}
