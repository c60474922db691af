//go:build unix

package kernel

import (
	"errors"
	"os"
	"syscall"
)

// lockFile is a lock on the shop as a whole, beside SQLite's own. Everybody who
// has the shop open shares it; whoever puts another file in its place holds it
// alone. It ends with the process, however that ends.
type lockFile struct{ f *os.File }

// LockShop takes the lock of the shop's file at path, alone or shared, without
// waiting; [ErrInUse] if somebody else stands in the way. It comes first of all,
// and asks for safe locks of SQLite's too.
func LockShop(path string, alone bool) (*lockFile, error) {
	if err := UseSafeLocks(); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	if err := KeepOwner(f.Name(), path); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	how := syscall.LOCK_SH
	if alone {
		how = syscall.LOCK_EX
	}
	err = syscall.Flock(int(f.Fd()), how|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		err = ErrInUse
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &lockFile{f}, nil
}

// Release gives the lock back. The empty file stays: to remove it would let two
// processes lock two files of one name.
func (l *lockFile) Release() error {
	if l == nil {
		return nil
	}
	return l.f.Close()
}
