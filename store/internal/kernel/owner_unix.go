//go:build unix

package kernel

import (
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// KeepOwner gives a file, or a folder with all that is in it, the owner of what
// it is about to replace at place, or of the folder there if it replaces nothing.
// Only root can, and for anybody else it does nothing: what a command of root
// leaves in the folder of a service must belong to the service's user.
func KeepOwner(path, place string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	like, err := os.Stat(place)
	if os.IsNotExist(err) || err == nil && ownerOf(like).Uid == 0 { // root's file there was a mistake
		like, err = os.Stat(filepath.Dir(place))
	}
	if err != nil {
		return err
	}
	owner := ownerOf(like)
	return filepath.WalkDir(path, func(path string, _ fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return os.Lchown(path, int(owner.Uid), int(owner.Gid))
	})
}

func ownerOf(info fs.FileInfo) *syscall.Stat_t { return info.Sys().(*syscall.Stat_t) }
