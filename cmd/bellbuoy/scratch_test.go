package main

import (
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
)

// TestUploadsOfTheKilledGo: a daemon that is killed leaves what somebody uploaded
// in its folder of temporary files. The next start of the program removes that
// folder, and none of a daemon that runs; one that stops gently leaves nothing.
func TestUploadsOfTheKilledGo(t *testing.T) {
	if testing.Short() {
		t.Skip("starts daemons")
	}
	temporary := t.TempDir()
	t.Setenv("TMPDIR", temporary)
	s := inventedShop(t, demoSettings("127.0.0.1:8410", "127.0.0.1:1", false), 5, civil.Of(2027, 3, 15))
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "desk")
	if left := scratches(t, temporary); len(left) > 0 {
		t.Fatalf("commands that ended left %v", left)
	}
	killed := s.serve(t)
	var body strings.Builder
	w := multipart.NewWriter(&body)
	part, err := w.CreateFormFile("files", "customers.csv")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := part.Write([]byte("customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC9,Odalys Reed,,,,,,,\n")); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if code, answer := killed.signedIn(t).post("/import", w.FormDataContentType(), body.String()); code != http.StatusSeeOther {
		t.Fatalf("the upload is answered by %d\n%s", code, answer)
	}
	killed.kill()
	orphan := scratches(t, temporary)
	if len(orphan) != 1 || !holds(t, orphan[0], "Odalys Reed") {
		t.Fatalf("the killed daemon left %v, and no upload in it: the test looks at nothing", orphan)
	}
	alive := s.serve(t)
	both := scratches(t, temporary)
	if len(both) != 2 {
		t.Fatalf("a folder that may be a new program's is gone: %v", both)
	}
	for _, dir := range both { // some time later
		if err := os.Chtimes(filepath.Join(dir, "lock"), time.Time{}, time.Now().Add(-time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	s.do(t, "version")
	if left := scratches(t, temporary); len(left) != 1 || slices.Contains(left, orphan[0]) {
		t.Errorf("%v are left, want the running daemon's alone", left)
	}
	alive.stop(t)
	if left := scratches(t, temporary); len(left) > 0 {
		t.Errorf("a daemon that stopped left %v", left)
	}
}

// scratches are the programs' folders of temporary files.
func scratches(t *testing.T, temporary string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(temporary, scratchPrefix+"*"))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// holds reports whether a file below a folder has some text.
func holds(t *testing.T, dir, text string) bool {
	t.Helper()
	found := false
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		found = found || strings.Contains(string(b), text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}
