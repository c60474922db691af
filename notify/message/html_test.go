package message_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule/testkit"
)

// TestMailsAreGoodHTML has html-validate read every kind of mail. Two of its
// rules are off: mail programs keep only inline styles, and the inliner writes
// void elements with a slash, which HTML allows.
func TestMailsAreGoodHTML(t *testing.T) {
	dir := os.Getenv("BELLBUOY_NPM")
	tool := filepath.Join(dir, "node_modules", ".bin", "html-validate")
	_, err := os.Stat(tool)
	testkit.Needs(t, dir != "" && err == nil, "html-validate in the folder that BELLBUOY_NPM names")
	config := filepath.Join(t.TempDir(), ".htmlvalidate.json")
	rules := `{"root": true, "extends": ["html-validate:recommended"], "rules": {"no-inline-style": "off", "void-style": "off"}}`
	if err := os.WriteFile(config, []byte(rules), 0o600); err != nil {
		t.Fatal(err)
	}
	r, folder := fixture.Renderer(t, nil), t.TempDir()
	var mails []string
	for name, n := range fixture.Cases(t) {
		l, err := r.Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		_, _, page := fixture.Bodies(t, l.Raw)
		file := filepath.Join(folder, name+".html")
		if err := os.WriteFile(file, []byte(page), 0o600); err != nil {
			t.Fatal(err)
		}
		mails = append(mails, file)
	}
	mails = append(mails, filepath.Join("testdata", "mail", "report.html")) // as TestReport finds it rendered
	if len(mails) < 10 {
		t.Fatalf("only %d mails; want every kind", len(mails))
	}
	out, err := exec.Command(tool, append([]string{"--config", config}, mails...)...).CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
