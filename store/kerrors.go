package store

import (
	"errors"
	"fmt"
)

// The errors that callers branch on.
var (
	// errNotFound: no row has that id.
	errNotFound = errors.New("not found")
	// errNewer: the file was written by a newer program.
	errNewer = errors.New("written by a newer version of bellbuoy; install that version or restore an older backup")
	// errRefused: what was to be written contradicts what is known; the text
	// around it says what and what to do.
	errRefused = errors.New("refused")
	// errInUse: another bellbuoy has the shop open, or is putting a backup in
	// its place.
	errInUse = errors.New("another bellbuoy is at work on the shop; stop it first")
)

// wrap adds what was being done to an error, if there is one.
func wrap(err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf(format+": %w", append(args, err)...)
}
