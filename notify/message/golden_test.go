package message_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden mails anew")

// golden compares with a golden file, or writes it.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	goldenIn(t, "mail", name, got)
}

// goldenIn does so in a folder of testdata.
func goldenIn(t *testing.T, folder, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", folder, name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; write it with go test ./notify/message -update", err)
	}
	if string(got) != string(want) {
		t.Errorf("%s differs from what is rendered now; look at the change with go test ./notify/message -update and git diff", path)
	}
}
