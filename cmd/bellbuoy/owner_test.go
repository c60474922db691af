//go:build unix

package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
)

// serviceUser is a user other than root and other than whoever runs the tests.
const serviceUser = 41741

// privateShop is a shop whose folder belongs to the service's user, as systemd's
// StateDirectory does.
func privateShop(t *testing.T) *testShop {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("only root may give files to another user")
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	for _, dir := range []string{filepath.Dir(s.dir), filepath.Dir(filepath.Dir(s.dir))} {
		if dir == filepath.Clean(os.TempDir()) {
			break
		}
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(program)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.asUser(), text, 0o755); err != nil {
		t.Fatal(err)
	}
	err = filepath.WalkDir(s.dir, func(path string, _ fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return os.Chown(path, serviceUser, serviceUser)
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asUser is the program where the service's user may read it.
func (s *testShop) asUser() string { return filepath.Join(s.dir, "bellbuoy-program") }

// ownedByUser asks that everything in the shop's folder belongs to the user.
func (s *testShop) ownedByUser(t *testing.T, when string) {
	t.Helper()
	err := filepath.WalkDir(s.dir, func(path string, _ fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := os.Lstat(path)
		if err != nil {
			return err
		}
		if st := info.Sys().(*syscall.Stat_t); st.Uid != serviceUser || st.Gid != serviceUser {
			name, _ := filepath.Rel(s.dir, path)
			t.Errorf("%s: %s belongs to %d:%d", when, name, st.Uid, st.Gid)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// What root's commands write into the folder of the service's user belongs to
// that user, and the daemon can go on with it.
func TestRootLeavesTheShopToItsUser(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	s := privateShop(t)
	in := func(name string) string { return filepath.Join(s.dir, name) }
	list := in("list.csv")
	if err := os.WriteFile(list, []byte("Owner,Boat,Sold\nAda Reed,Perch,someday\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	mapping := in("mapping.toml")
	if err := os.WriteFile(mapping, []byte(`[[sheet]]
name = "list.csv"
[sheet.columns]
"Owner" = "customer.name"
"Boat" = "boat.name"
"Sold" = "boat.sold_on"
[sheet.dates]
"Sold" = "ymd"
`), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{list, mapping} {
		if err := os.Chown(path, serviceUser, serviceUser); err != nil {
			t.Fatal(err)
		}
	}
	for _, step := range [][]string{
		{"import", filepath.Join(testdata, "worked")},
		{"import", "--map", mapping, "--accept-good", in("back.csv"), list},
		{"backup", in("copy.db")},
		{"export", in("out")},
		{"restore", in("copy.db")},
		{"restore", in("out")},
		{"check"},
	} {
		s.do(t, step...)
		s.ownedByUser(t, step[0])
	}
	// While root has the shop open, SQLite's files beside it are the user's too.
	d := s.serve(t)
	s.ownedByUser(t, "serve")
	d.kill()
	user := exec.Command(s.asUser(), "--config", s.config(), "--today", s.today, "mail", "off")
	user.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: serviceUser, Gid: serviceUser}}
	if out, err := user.CombinedOutput(); err != nil {
		t.Errorf("the service's user cannot go on: %v\n%s", err, out)
	}
}

// On a new machine the folder is made first and the backup comes from elsewhere.
func TestRestoreOnANewMachineBelongsToTheFolder(t *testing.T) {
	old := newShop(t, lindrake(t, ""))
	old.today = "2026-11-25"
	old.do(t, "import", filepath.Join(testdata, "worked"))
	backup := filepath.Join(old.dir, "copy.db")
	old.do(t, "backup", backup)
	s := privateShop(t)
	s.do(t, "restore", backup)
	s.ownedByUser(t, "restore")
	// A file that root left there before is no reason to go on so.
	if err := os.Chown(filepath.Join(s.dir, "bellbuoy.db"), 0, 0); err != nil {
		t.Fatal(err)
	}
	s.do(t, "restore", backup)
	if aside, err := filepath.Glob(filepath.Join(s.dir, "*.before-*")); err != nil || len(aside) != 1 || os.Remove(aside[0]) != nil {
		t.Fatalf("kept aside: %v, %v", aside, err)
	}
	s.ownedByUser(t, "restore over root's file")
}
