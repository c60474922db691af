package main

import (
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
)

// TestAnotherProgramHoldsTheFile: while another program keeps everybody from
// writing to the shop's file, pages are still read, a form comes back with what was
// typed and says that it may not have been saved; nothing of it is on file, and once the file
// is free the same form is taken.
func TestAnotherProgramHoldsTheFile(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for a lock")
	}
	s := inventedShop(t, demoSettings("127.0.0.1:8410", "127.0.0.1:1", false), 5, civil.Of(2027, 3, 15))
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "desk")
	d := s.serve(t)
	desk := d.signedIn(t)
	form := url.Values{"form": {"held"}, "words": {"Mend the horn"}, "minutes": {"30"}, "day": {"2027-03-17"}}
	// The store asks for its kind of locks before anything else in this process opens
	// a file.
	if err := s.open(t).Close(); err != nil {
		t.Fatal(err)
	}
	release := holdFile(t, filepath.Join(s.dir, "bellbuoy.db"))
	code, answer := desk.post("/boats/B00001/job", "application/x-www-form-urlencoded", form.Encode())
	if code != http.StatusServiceUnavailable && code != http.StatusInternalServerError || !strings.Contains(answer, "Mend the horn") || !strings.Contains(answer, "may not have been saved") {
		t.Errorf("a form is answered by %d\n%s", code, answer)
	}
	if resp, _ := d.get(t, http.MethodGet, d.base+"/sign-in"); resp.StatusCode != http.StatusOK {
		t.Errorf("a page is answered by %s", resp.Status)
	}
	if out := s.do(t, "plan", "B00001"); strings.Contains(out, "Mend the horn") {
		t.Errorf("what was not saved is planned:\n%s", out)
	}
	release()
	desk.form("/boats/B00001/job", form)
	if out := s.do(t, "plan", "B00001"); !strings.Contains(out, "Mend the horn") {
		t.Errorf("what was saved is not planned:\n%s", out)
	}
	d.stop(t)
}
