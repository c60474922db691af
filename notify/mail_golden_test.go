package notify_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var mailUpdate = flag.Bool("update-mail", false, "write the golden mails anew")

// mailGolden compares with a golden file, or writes it.
func mailGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", "mail", name)
	if *mailUpdate {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; write it with go test ./notify -update-mail", err)
	}
	if string(got) != string(want) {
		t.Errorf("%s differs from what is rendered now; look at the change with go test ./notify -update-mail and git diff", path)
	}
}
