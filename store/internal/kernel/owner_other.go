//go:build !unix

package kernel

// KeepOwner does nothing here: a file's owner is a matter of its folder.
func KeepOwner(string, string) error { return nil }
