package store

import "bellbuoy/store/internal/kernel"

// KeepOwner gives a file, or a folder with all that is in it, the owner of what
// it replaces at place, or of the folder that place lies in; see package kernel.
func KeepOwner(path, place string) error { return kernel.KeepOwner(path, place) }
