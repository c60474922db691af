package kernel

import (
	"errors"
	"os"

	"github.com/gofrs/flock"
)

// LockShop takes the lock of the shop's file at path, alone or shared, without
// waiting; [ErrInUse] if somebody else stands in the way. It comes first of all,
// and asks for safe locks of SQLite's too.
//
// It is a lock on the shop as a whole, beside SQLite's own: everybody who has the
// shop open shares it; whoever puts another file in its place holds it alone. It
// ends with its Close or with the process, however that ends. The empty file
// stays: to remove it would let two processes lock two files of one name.
func LockShop(path string, alone bool) (*flock.Flock, error) {
	if err := UseSafeLocks(); err != nil {
		return nil, err
	}
	lock := flock.New(path+".lock", flock.SetFlag(os.O_RDWR|os.O_CREATE), flock.SetPermissions(0o600))
	try := lock.TryRLock
	if alone {
		try = lock.TryLock
	}
	ok, err := try()
	if err == nil && !ok {
		err = ErrInUse
	}
	if err == nil {
		if err = KeepOwner(lock.Path(), path); err != nil {
			err = errors.Join(err, lock.Close())
		}
	}
	return lock, err
}
