package main

import (
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
)

const (
	// scratchPrefix begins the names of the programs' folders of temporary files.
	scratchPrefix = "bellbuoy-run-"
	// scratchSettles is how old a folder is at least before it may be taken for
	// one whose program is gone: a new one is not locked yet.
	scratchSettles = time.Minute
)

// ownScratch gives this program a folder of its own for all that it keeps for a
// while, such as uploads and copies of the shop, and removes those of programs
// that were killed: they hold what customers told the shop. The lock in a folder
// ends with its program, however that ends. Where no folder can be had the
// ordinary one serves. The call returned removes it.
func ownScratch(now time.Time) (remove func()) {
	removeOrphans(now)
	dir, err := os.MkdirTemp("", scratchPrefix)
	if err != nil {
		return func() {}
	}
	lock := flock.New(filepath.Join(dir, "lock"))
	remove = func() {
		_ = lock.Unlock()
		_ = os.RemoveAll(dir)
	}
	if held, err := lock.TryLock(); err != nil || !held {
		remove()
		return func() {}
	}
	for _, name := range []string{"TMPDIR", "TMP", "TEMP"} {
		_ = os.Setenv(name, dir)
	}
	return remove
}

// removeOrphans removes the folders of programs that are gone. One that cannot be
// is somebody else's.
func removeOrphans(now time.Time) {
	dirs, _ := filepath.Glob(filepath.Join(os.TempDir(), scratchPrefix+"*"))
	for _, dir := range dirs {
		lockFile := filepath.Join(dir, "lock")
		made, err := os.Lstat(lockFile)
		if err != nil || !made.Mode().IsRegular() || now.Sub(made.ModTime()) < scratchSettles {
			continue
		}
		lock := flock.New(lockFile)
		if gone, err := lock.TryLock(); err != nil || !gone {
			continue
		}
		_ = lock.Unlock()
		_ = os.RemoveAll(dir)
	}
}
