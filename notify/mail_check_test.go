package notify_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// TestMailsAreGoodHTML has html-validate read every kind of mail. Two of its
// rules are off: mail programs keep only inline styles, and the inliner writes
// void elements with a slash, which HTML allows.
func TestMailsAreGoodHTML(t *testing.T) {
	dir := os.Getenv("BELLBUOY_NPM")
	tool := filepath.Join(dir, "node_modules", ".bin", "html-validate")
	if _, err := os.Stat(tool); dir == "" || err != nil {
		if os.Getenv("BELLBUOY_CI") == "1" {
			t.Fatalf("html-validate is missing: BELLBUOY_NPM is %q", dir)
		}
		t.Skip("needs html-validate from npm: set BELLBUOY_NPM")
	}
	config := filepath.Join(t.TempDir(), ".htmlvalidate.json")
	rules := `{"root": true, "extends": ["html-validate:recommended"], "rules": {"no-inline-style": "off", "void-style": "off"}}`
	if err := os.WriteFile(config, []byte(rules), 0o600); err != nil {
		t.Fatal(err)
	}
	mails, err := filepath.Glob(filepath.Join("testdata", "mail", "*.html"))
	if err != nil || len(mails) < 10 {
		t.Fatalf("%d mails found, %v; want every kind", len(mails), err)
	}
	out, err := exec.Command(tool, append([]string{"--config", config}, mails...)...).CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
