//go:build linux

package main

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strings"
	"syscall"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

// TestDiskFullWhileServing fills the disk under a daemon: a form is taken and kept, or
// comes back with what was typed and what to do; pages are still read. Once there is
// room the same form is taken.
func TestDiskFullWhileServing(t *testing.T) {
	testkit.Needs(t, os.Getuid() == 0, "root, to mount a disk in memory,")
	made := inventedShop(t, demoSettings("127.0.0.1:8410", "127.0.0.1:1", false), 5, civil.Of(2027, 3, 15))
	made.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "desk")
	s := &testShop{dir: t.TempDir(), today: made.today}
	testkit.Needs(t, syscall.Mount("tmpfs", s.dir, "tmpfs", 0, "size=64m") == nil, "the right to mount a disk in memory")
	t.Cleanup(func() {
		if err := syscall.Unmount(s.dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	if err := os.CopyFS(s.dir, os.DirFS(made.dir)); err != nil {
		t.Fatal(err)
	}
	d := s.serve(t)
	desk := d.signedIn(t)
	resize := func(size string) {
		t.Helper()
		if err := syscall.Mount("tmpfs", s.dir, "tmpfs", syscall.MS_REMOUNT, "size="+size); err != nil {
			t.Fatal(err)
		}
	}
	var fs syscall.Statfs_t
	if err := syscall.Statfs(s.dir, &fs); err != nil {
		t.Fatal(err)
	}
	resize(fmt.Sprint(int64(fs.Blocks-fs.Bfree) * fs.Bsize))
	job := func(n int) url.Values {
		return url.Values{"form": {fmt.Sprint("full-", n)}, "words": {fmt.Sprintf("Mend horn %d.", n)}, "minutes": {"30"}, "day": {"2027-03-17"}}
	}
	taken := 0
	for ; ; taken++ {
		code, answer := desk.post("/boats/B00001/job", "application/x-www-form-urlencoded", job(taken).Encode())
		if code == http.StatusSeeOther && taken < 500 {
			continue // the file had room of its own
		}
		if code < http.StatusInternalServerError || !strings.Contains(answer, fmt.Sprintf("Mend horn %d.", taken)) || !strings.Contains(answer, "the disk is full: make room") {
			t.Errorf("form %d is answered by %d\n%s", taken, code, answer)
		}
		break
	}
	if resp, _ := d.get(t, http.MethodGet, d.base+"/sign-in"); resp.StatusCode != http.StatusOK {
		t.Errorf("a page is answered by %s", resp.Status)
	}
	resize("64m")
	desk.form("/boats/B00001/job", job(taken))
	d.stop(t)
	out := s.do(t, "plan", "B00001")
	for n := range taken + 1 {
		if strings.Count(out, fmt.Sprintf("Mend horn %d.", n)) == 0 {
			t.Errorf("form %d was acknowledged and is not on file", n)
		}
	}
	untilSound(t, s, "the last backup failed") // the disk was full
	t.Logf("%d forms were taken before the disk was full", taken)
}
