//go:build !unix

package kernel

// lockFile is a lock on the shop as a whole; this system has none that ends
// with its process, so that nothing is locked. Such a system refuses to rename
// over a file that is open, which protects the shop there.
type lockFile struct{}

// LockShop locks nothing of ours and asks for safe locks of SQLite's.
func LockShop(string, bool) (*lockFile, error) { return &lockFile{}, UseSafeLocks() }

// Release gives nothing back.
func (l *lockFile) Release() error { return nil }
