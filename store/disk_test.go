//go:build linux

package store_test

import (
	"cmp"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

// onDisk makes a disk of so many bytes in memory and puts a shop on it.
func onDisk(t *testing.T, size string) (dir, shop string) {
	t.Helper()
	testkit.Needs(t, os.Getuid() == 0, "root, to mount a disk in memory,")
	dir = t.TempDir()
	err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size)
	testkit.Needs(t, err == nil, "the right to mount a disk in memory")
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	shop = filepath.Join(dir, "shop.db")
	db, err := store.Open(t.Context(), shop)
	if err != nil {
		t.Fatal(err)
	}
	take(t, db, small())
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, shop
}

// digestOf is the whole shop as an export, which lies on another disk.
func digestOf(t testing.TB, path string) map[string]string {
	t.Helper()
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
		t.Fatalf("%s: %v, %v", path, bad, err)
	}
	return tree(t, exported(t, db))
}

func TestFullDiskChangesNothing(t *testing.T) {
	dir, shop := onDisk(t, "2200k")
	before := digestOf(t, shop)
	for _, c := range []struct {
		name string
		do   func() error
	}{
		{"intake", func() error { return childIntake(t.Context(), []string{shop, "900"}) }},
		{"backup", func() error {
			ballast := filepath.Join(dir, "ballast")
			_ = os.WriteFile(ballast, make([]byte, 4<<20), 0o600) // as much as there is room for
			defer os.Remove(ballast)
			return childBackup(t.Context(), []string{shop, filepath.Join(dir, "copy.db")})
		}},
		{"restore", func() error {
			other := open(t)
			raw(t, other, `WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 20000)
				INSERT INTO boats (id, kind, water, place, berth) SELECT 'X' || i, 'runabout', 'fresh', 'Pine Cove', 'own-dock' FROM n`)
			big := filepath.Join(t.TempDir(), "big.db")
			if err := archive.Backup(t.Context(), other.Reader, big); err != nil {
				t.Fatal(err)
			}
			return childRestore(t.Context(), []string{shop, big})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.do()
			if err == nil || !strings.Contains(store.Advice(err), "the disk is full") {
				t.Errorf("%v; the advice is %q", err, store.Advice(err))
			}
			sameTree(t, before, digestOf(t, shop))
			if left, _ := filepath.Glob(filepath.Join(dir, "*.part*")); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
			if left, _ := filepath.Glob(shop + ".restoring*"); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
		})
	}
}

// TestDiskFullAtAnyWrite fills the disk up to less and less room, so that an import
// runs out of it at one write after the other, and then frees it: each time the shop
// is to the last cell what it was before, and the same import goes through after
// that. BELLBUOY_ROOM=4096 tries every page of room, 64 KB are the step otherwise.
func TestDiskFullAtAnyWrite(t *testing.T) {
	if testing.Short() {
		t.Skip("fills many disks")
	}
	step, err := strconv.ParseInt(cmp.Or(os.Getenv("BELLBUOY_ROOM"), "65536"), 10, 64)
	if err != nil || step < 4096 {
		t.Fatalf("BELLBUOY_ROOM: %d, %v; want bytes, from 4096 on", step, err)
	}
	dir, shop := onDisk(t, "16m")
	whole, err := os.ReadFile(shop)
	if err != nil {
		t.Fatal(err)
	}
	before := digestOf(t, shop)
	ballast := filepath.Join(dir, "ballast")
	failed := 0
	for room := int64(0); ; room += step {
		if err := os.WriteFile(shop, whole, 0o600); err != nil {
			t.Fatal(err)
		}
		var fs syscall.Statfs_t
		if err := syscall.Statfs(dir, &fs); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(ballast, make([]byte, max(0, int64(fs.Bavail)*fs.Bsize-room)), 0o600); err != nil {
			t.Fatal(err)
		}
		err := childIntake(t.Context(), []string{shop, "200"})
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
		if err == nil {
			break
		}
		failed++
		if !strings.Contains(store.Advice(err), "the disk is full") {
			t.Errorf("with %d bytes of room: %v; the advice is %q", room, err, store.Advice(err))
		}
		sameTree(t, before, digestOf(t, shop))
		if err := childIntake(t.Context(), []string{shop, "200"}); err != nil {
			t.Fatalf("freed after %d bytes of room: %v", room, err)
		}
	}
	if failed < 5 {
		t.Errorf("the import ran out of room %d times: too few", failed)
	}
	t.Logf("an import ran out of room at %d writes, %d bytes apart", failed, step)
}

func TestReadOnlyDiskIsSaid(t *testing.T) {
	dir, shop := onDisk(t, "8m")
	before, err := os.ReadFile(shop)
	if err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(t.Context(), shop)
	if err == nil {
		db.Close()
	}
	if err == nil || !strings.Contains(store.Advice(err), "mounted read-only") {
		t.Errorf("%v; the advice is %q", err, store.Advice(err))
	}
	if after, err := os.ReadFile(shop); err != nil || string(after) != string(before) {
		t.Errorf("the file has changed: %v", err)
	}
}

func TestWrongPermissionsAreSaid(t *testing.T) {
	testkit.Needs(t, os.Getuid() == 0, "root, to be somebody else,")
	dir := openFolder(t)
	shop := filepath.Join(dir, "shop.db")
	db, err := store.Open(t.Context(), shop)
	if err != nil {
		t.Fatal(err)
	}
	take(t, db, small())
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	before := digestOf(t, shop)
	nobody := &syscall.Credential{Uid: 65534, Gid: 65534}
	for _, c := range []struct {
		name    string
		prepare func() error
		advice  string
	}{
		{"a file of somebody else's", func() error { return nil }, "ls -l"},
		{"a folder of somebody else's", func() error { return os.Chown(shop, 65534, 65534) }, "ls -l"},
		{"a lock of one's own", func() error { return os.Chown(shop+".lock", 65534, 65534) }, "its folder"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := c.prepare(); err != nil {
				t.Fatal(err)
			}
			p := startChild(t, nobody, "intake", shop, "10")
			code, _ := p.wait()
			if said := p.stderr.String(); code != 1 || !strings.Contains(said, c.advice) {
				t.Errorf("exit code %d\n%s", code, said)
			}
		})
	}
	sameTree(t, before, digestOf(t, shop))
}
