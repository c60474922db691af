package notify_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

// mostSpam is the score that a letter may have; a filter's usual limit is 5.
const mostSpam = 0.5

// TestASpamFilterHasNothingAgainstTheLetters scores a letter of every step with
// a spam filter, offline: by its rules about the text alone.
func TestASpamFilterHasNothingAgainstTheLetters(t *testing.T) {
	filter, err := exec.LookPath("spamassassin")
	if err != nil {
		if os.Getenv("BELLBUOY_CI") == "1" {
			t.Fatal(err)
		}
		t.Skip("needs spamassassin")
	}
	files, err := filepath.Glob("testdata/mail/*.eml")
	if err != nil || len(files) < 13 {
		t.Fatalf("%d letters, %v", len(files), err)
	}
	var box bytes.Buffer
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		box.WriteString("From service@kettlecove.example Mon Sep 14 10:00:00 2026\n")
		box.Write(bytes.ReplaceAll(raw, []byte("\r\n"), []byte("\n")))
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
	if len(scores) != len(files) {
		t.Fatalf("%d scores of %d letters", len(scores), len(files))
	}
	for i, m := range scores {
		score, err := strconv.ParseFloat(string(m[1]), 64)
		if err != nil || score > mostSpam {
			t.Errorf("%s scores %s: %s", filepath.Base(files[i]), m[1], m[2])
		}
	}
}
